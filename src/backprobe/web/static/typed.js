// What was typed into a form of a job and not sent yet is there again when the page is loaded anew: it
// is kept on this device for a day, by job and form, until the laptop has it. Nothing is sent from here.
"use strict";

(() => {
  const TYPED = "backprobe-typed";
  // ms
  const DAY = 864e5;
  // when the browser stores nothing
  let memory = {};
  // the form of a "What if?", which notes nothing
  let trial = null;

  const began = document.querySelector("meta[name=began]")?.content;

  // A check, or a pin with its key and load, is part of what a form is: no value comes into another's,
  // nor into a job of the same number in another shop.
  function keyOf(form) {
    const action = form.getAttribute("action") || "";
    const parts = [...form.elements].filter((one) => ["check", "pin", "key", "on"].includes(one.name));
    return action.startsWith("/job/") ? [began, action, ...parts.map((one) => one.value)].join("\n") : "";
  }

  function kept() {
    try {
      memory = JSON.parse(localStorage.getItem(TYPED)) || {};
    } catch {
      // as long as the page is open
    }
    return Object.fromEntries(Object.entries(memory).filter(([, one]) => Date.now() - one.when < DAY));
  }

  function keep(all) {
    memory = all;
    try {
      localStorage.setItem(TYPED, JSON.stringify(all));
    } catch {
      // as above
    }
  }

  function forget(key) {
    const { [key]: gone, ...others } = kept();
    if (gone) keep(others);
  }

  const fields = (form) => form.querySelectorAll("input:not([type=hidden], [type=file]), textarea");
  const ticked = (one) => one.type === "checkbox" || one.type === "radio";
  const nameOf = (one) => (ticked(one) ? `${one.name}=${one.value}` : one.name);
  const now = (one) => (ticked(one) ? one.checked : one.value);
  const printed = (one) => (ticked(one) ? one.defaultChecked : one.defaultValue);

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    const key = form && keyOf(form);
    if (!key) return;
    const all = kept();
    const typed = { ...all[key]?.typed };
    for (const one of fields(form)) typed[nameOf(one)] = now(one) === printed(one) ? undefined : now(one);
    all[key] = { when: Date.now(), typed };
    keep(all);
    if (Object.values(typed).every((one) => one === undefined)) forget(key);
  });

  function bring(form, loaded) {
    const { when, typed } = kept()[keyOf(form)] || { typed: {} };
    let back = false;
    for (const one of fields(form)) {
      const value = typed[nameOf(one)];
      // that is being typed
      if (value === undefined || now(one) !== printed(one)) continue;
      back ||= value !== now(one);
      one[ticked(one) ? "checked" : "value"] = value;
      for (let fold = one.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    }
    if (!back || !loaded) return;
    const at = new Date(when).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    const words = `Typed at ${at}, not noted yet.`;
    form.prepend(Object.assign(document.createElement("p"), { className: "notice", textContent: words }));
  }

  const bringAll = (loaded) => [...document.forms].forEach((form) => bring(form, loaded === true));

  // A form of the sheet tells by itself that the laptop took it, or that it is kept to be sent.
  document.addEventListener("htmx:after:request", (event) => {
    const { response, sourceElement: form } = event.detail.ctx;
    if (response.status < 400 && form.matches("form") && form !== trial) forget(keyOf(form));
  });
  document.addEventListener("kept", (event) => forget(keyOf(event.target)));

  // Of the others the page that comes next tells.
  const landed = /[?&]since=|\/write-up$/.test(location.href);
  const open = Object.entries(kept()).filter(([, { from }]) => !landed || !from || from === location.href);
  keep(Object.fromEntries(open.map(([key, one]) => [key, { ...one, from: "" }])));
  document.addEventListener(
    "submit",
    ({ target: form, submitter }) => {
      trial = submitter?.name === "try" ? form : null;
      const all = kept();
      const mine = all[keyOf(form)];
      if (!mine || form.hasAttribute("hx-post")) return;
      mine.from = location.href;
      keep(all);
    },
    true,
  );

  document.addEventListener("htmx:after:swap", bringAll);
  document.addEventListener("laid", bringAll);
  bringAll(true);
})();
