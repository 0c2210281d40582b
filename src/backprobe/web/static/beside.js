// Beside the machine. Says what other phones noted; while the laptop is out of reach, keeps what is
// entered, shows the checks that follow, and sends each entry once when the laptop is back.
"use strict";

(() => {
  const KEPT = "backprobe-kept";
  // ms between looks; others' entries are seen within 3 s
  const EVERY = 2000;
  // ms a look may take before the laptop counts as out of reach
  const PATIENCE = 4000;
  // ms a sheet is left alone before checks are fetched ahead
  const CALM = 1500;
  const FACTORS = { V: 1, mV: 1e-3, ohm: 1, kohm: 1e3, Mohm: 1e6, A: 1, mA: 1e-3 };
  const KEEPABLE = /^\/job\/[^/]+\/(answer|approved|failing|back|put-back|say)$/;
  const AT_LAPTOP = ["127.0.0.1", "localhost", "[::1]"].includes(location.hostname);

  let inReach = true;
  let unpaired = false;
  let sending = false;
  let renewing = false;
  // the second half of the sheet was lost on the way
  let cut = false;
  // the sheet that does not show yet what was sent from it
  let owed = "";
  // a form on its way, and the entry it would be
  let flying = null;
  // what follows, by check
  let ahead = {};
  // of which the checks that follow are made
  let pieces = [];
  let fetching = null;
  // "Check next" as the laptop laid it out
  let untouched = null;
  // when the browser stores nothing
  let memory = [];

  const sheet = () => document.getElementById("sheet");
  const job = () => (sheet() && (location.pathname.match(/^\/job\/([^/]+)$/) || [])[1]) || "";
  const at = () => sheet()?.querySelector("input[name=at]")?.value || "";

  const make = (tag, words, more) =>
    Object.assign(document.createElement(tag), { textContent: words || "" }, more);
  const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const fresh = () =>
    [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");

  // ---------------------------------------------------------------- what is kept

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) || [];
    } catch {
      return memory;
    }
  }

  function keepAll(list) {
    memory = list;
    try {
      localStorage.setItem(KEPT, JSON.stringify(list));
    } catch {
      // a browser that stores nothing: kept as long as the page is open
    }
  }

  const field = (entry, name) => (entry.fields.find(([n]) => n === name) || [])[1] || "";

  function entryOf(form, submitter) {
    const fields = [...new FormData(form)].filter(([, value]) => typeof value === "string");
    if (submitter?.name) fields.push([submitter.name, submitter.value]);
    const title = (form.getAttribute("aria-label") || "").replace(/^[^:]*: /, "");
    const entry = { job: job(), at: at(), action: form.getAttribute("action"), fields, when: Date.now(), no: "" };
    entry.began = document.querySelector("meta[name=began]")?.content || "";
    entry.once = field(entry, "once");
    const typed = field(entry, "value");
    const label = submitter ? submitter.getAttribute("aria-label") || submitter.textContent : "";
    const value = typed && !submitter?.name ? `${[typed, field(entry, "to")].filter(Boolean).join(" to ")} ${field(entry, "unit")}` : label;
    entry.words = field(entry, "text") || [title, value.trim()].filter(Boolean).join(": ");
    return entry;
  }

  function remark(entry) {
    entry.once = fresh();
    entry.fields = entry.fields.map(([n, v]) => [n, n === "once" ? entry.once : v]);
    return entry;
  }

  function keep(entry) {
    const list = kept();
    if (list.some((one) => one.once === entry.once)) return;
    keepAll([...list, entry]);
    draw();
    const next = document.getElementById("next");
    next?.scrollIntoView({ block: "start" });
  }

  function drop(once) {
    keepAll(kept().filter((one) => one.once !== once));
    draw();
  }

  // ---------------------------------------------------------------- what is shown

  function box(id, before) {
    const found = document.getElementById(id);
    if (found) return found;
    const made = make("section", "", { id, className: "beside", hidden: true });
    made.setAttribute("role", "status");
    before.before(made);
    return made;
  }

  function draw() {
    const main = document.getElementById("main");
    const top = box("kept", main.firstElementChild);
    const list = kept();
    const offline = document.getElementById("offline");
    if (offline && unpaired) {
      offline.textContent = "This phone is not paired any more. What is kept here stays: pair it again with the code on the laptop\u2019s page \u201cPhones\u201d.";
    } else if (offline && job()) {
      offline.textContent = "Out of reach: what you enter is kept here and sent later.";
    }
    if (offline && (job() || unpaired)) offline.hidden = inReach && !unpaired;
    top.hidden = !list.length;
    top.replaceChildren();
    if (list.length) {
      top.append(make("h2", list.every((one) => one.no) ? "Not taken by the laptop " : "Kept here, not sent yet "));
      top.firstChild.append(make("small", String(list.length)));
      const rows = make("ul");
      for (const entry of list) {
        const row = make("li");
        const words = make("span");
        words.append(make("b", entry.words), make("small", `${entry.job}, ${clock(entry.when)}`));
        if (entry.no) words.append(make("strong", `Not taken: ${entry.no}`));
        const button = make("button", "Drop it", { type: "button", className: "plain" });
        button.setAttribute("aria-label", `Drop it: ${entry.words}`);
        button.addEventListener("click", () => drop(entry.once));
        row.append(words, button);
        rows.append(row);
      }
      top.append(rows);
    }
    follow();
    document.dispatchEvent(new Event("laid"));
  }

  // What follows on the entries kept on this sheet, drawn anew from the sheet as it was.
  function follow() {
    const next = document.getElementById("next");
    if (!next) return;
    const mine = kept().filter((one) => one.job === job() && one.at === at() && !one.no);
    if (untouched) next.replaceChildren(...untouched.cloneNode(true).childNodes);
    if (!mine.length) {
      if (untouched && window.htmx) htmx.process(next);
      untouched = null;
      return;
    }
    untouched ||= next.cloneNode(true);
    for (const entry of mine) {
      const check = field(entry, "check");
      if (!check) continue;
      const answered = [...next.querySelectorAll("input[name=check]")].filter((one) => one.value === check);
      for (const one of answered) one.closest(".check")?.remove();
      if (field(entry, "after")) continue;
      const place = ahead[check] ? ahead[check].outcomes.findIndex((one) => fits(one, entry)) : -1;
      if (place >= 0 && ahead[check].outcomes[place].next.length) lay(next, ahead[check], place, entry);
    }
    if (!next.querySelector(".check")) {
      next.replaceChildren(make("h2", "Check next"));
      next.append(make("p", "What to check now is worked out when the laptop is in reach.", { className: "notice" }));
    }
  }

  // "0-2,7" as 0, 1, 2, 7
  const numbers = (runs) =>
    runs.split(",").flatMap((run) => {
      const [first, last = first] = run.split("-").map(Number);
      return Array.from({ length: last - first + 1 }, (_, k) => first + k);
    });

  function lay(next, known, place, entry) {
    const outcome = known.outcomes[place];
    next.replaceChildren(make("h2", "Check next"));
    next.append(make("p", `Kept: ${entry.words}. What follows was worked out before.`, { className: "notice" }));
    if (outcome.leaves.length) {
      const left = outcome.leaves.map(([figure, words]) => `${words} (${figure})`).join(" or ");
      next.append(make("p", `It could then be ${left}.`));
    }
    next.append(make("h3", outcome.next.length > 1 ? "One of these" : "Do this"));
    outcome.next.forEach((number, rank) => {
      const holder = make("div");
      const body = known.bodies[number];
      // escaped by the laptop
      const html = numbers(body.pieces).map((one) => pieces[one]).join("");
      holder.innerHTML = known.marks.reduceRight((text, mark, k) => text.replaceAll(mark, () => body.own[k]), html);
      const check = holder.firstElementChild;
      check.open = rank === 0;
      // the way to the answer leads here
      if (check.open) check.querySelector("form.answer")?.setAttribute("id", "check0-form");
      for (const form of check.querySelectorAll("form")) {
        const hidden = (name, value) => form.append(make("input", "", { type: "hidden", name, value }));
        form.elements.once.value = fresh();
        hidden("after", known.check);
        hidden("outcome", String(place));
      }
      next.append(check);
    });
  }

  // ---------------------------------------------------------------- readings out of reach

  function reading(text, unit) {
    const found = text.trim().replace("\u2212", "-").match(/^([+-]?\d*[.,]?\d+|[+-]?\d+[.,])\s*([A-Za-z\u00b5\u03a9]*)$/);
    if (!found) return /^(ol|0l|o\.l|open)$/i.test(text.trim()) ? Infinity : NaN;
    const typed = found[2];
    if (typed && typed.toLowerCase() !== unit.toLowerCase() && !FACTORS[typed]) return NaN;
    return Number(found[1].replace(",", ".")) * (FACTORS[typed || unit] || 1);
  }

  function fits(outcome, entry) {
    const word = field(entry, "word");
    if (outcome.word) return outcome.word === word;
    if (field(entry, "to") || (word && word !== "OL")) return false;
    let value = word === "OL" ? Infinity : reading(field(entry, "value"), field(entry, "unit"));
    if (field(entry, "minus")) value = -value;
    return (outcome.low === null || value > outcome.low) && (outcome.high === null || value <= outcome.high) && !Number.isNaN(value);
  }

  // Whether a form may be kept; one that could only be refused says so at once.
  function usable(form, submitter) {
    form.querySelector(".oops.here")?.remove();
    const { value: input, to, unit } = form.elements;
    if (!input || submitter?.name === "word") return true;
    const most = Number(input.dataset.most || Infinity);
    const bad = [input, to].find((one) => one?.value.trim() && !(Math.abs(reading(one.value, unit?.value || "")) <= most));
    if (!bad && input.value.trim()) return true;
    const typed = (bad || input).value.trim();
    const known = typed && !Number.isNaN(reading(typed, unit?.value || ""));
    const oops = make("div", "", { className: "oops here" });
    oops.setAttribute("role", "alert");
    const like = "Type what the meter shows, for instance 4,98 or 12.3.";
    const words = known
      ? `\u201c${typed.slice(0, 40)}\u201d cannot be: on this machine the meter shows at most ${most} ${unit.value.slice(-1)}. Is the decimal point in its place, and the unit right?`
      : typed ? `\u201c${typed.slice(0, 40)}\u201d is not a reading. ${like}` : `The reading is missing. ${like}`;
    oops.append(make("p", words));
    form.prepend(oops);
    (bad || input).focus();
    return false;
  }

  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      const submitter = event.submitter;
      if (!job() || submitter?.name === "try" || !KEEPABLE.test(form.getAttribute("action") || "")) return;
      flying = { form, submitter, entry: entryOf(form, submitter) };
      if (inReach) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      remark(flying.entry);
      land();
    },
    true,
  );

  // The form on its way did not arrive, or nobody knows: it is kept, and sent again under its mark.
  function land() {
    if (!flying) return;
    const { form, submitter, entry } = flying;
    flying = null;
    if (!usable(form, submitter)) return;
    form.dispatchEvent(new Event("kept", { bubbles: true }));
    keep(entry);
  }

  document.addEventListener("htmx:error", (event) => {
    // it was answered
    if (event.detail?.ctx?.response) return;
    cut ||= Boolean(sheet()?.querySelector(".working"));
    land();
    reach(false);
  });

  document.addEventListener("htmx:finally:request", () => {
    flying = null;
  });

  document.addEventListener("sheet", () => {
    cut = false;
    // an older answer may come in late
    if (at() !== owed) owed = "";
    untouched = null;
    ahead = {};
    pieces = [];
    box("others", sheet()).hidden = true;
    draw();
    fetchAhead();
  });

  // ---------------------------------------------------------------- in reach, out of reach

  function reach(now) {
    if (now === inReach) return;
    inReach = now;
    if (!now && flying) {
      const { form } = flying;
      land();
      form.dispatchEvent(new CustomEvent("htmx:abort"));
    }
    draw();
  }

  async function look() {
    if (document.hidden) return;
    if (!job()) {
      if (kept().some((one) => !one.no)) await send();
      return;
    }
    const asked = at();
    try {
      const reply = await fetch(`/job/${job()}/since?at=${asked}`, { signal: AbortSignal.timeout(PATIENCE), cache: "no-store" });
      unpaired = reply.status === 403;
      reach(true);
      if (!reply.ok) {
        draw();
        return;
      }
      const news = await reply.json();
      if (kept().some((one) => !one.no)) await send();
      else if (cut || owed) await renew(asked);
      else if (asked === at() && !flying) tell(news, asked);
    } catch {
      reach(false);
    }
  }

  function tell(news, asked) {
    const others = box("others", sheet());
    const shown = String(news.at);
    if (!news.new.length || others.dataset.shown === shown) return;
    others.dataset.shown = shown;
    others.replaceChildren(make("h2", "Noted meanwhile"));
    const rows = make("ul");
    for (const one of news.new) {
      const row = make("li");
      row.append(make("b", one.words), make("small", [one.who, clock(one.when * 1000)].filter(Boolean).join(", ")));
      rows.append(row);
    }
    if (news.more > 0) rows.append(make("li", `and ${news.more} more`));
    const button = make("button", "Show the new sheet", { type: "button", className: "go" });
    button.addEventListener("click", () => renew(asked));
    others.append(rows, button);
    others.hidden = false;
  }

  async function renew(since) {
    if (renewing) return;
    renewing = true;
    const address = `/job/${job()}?since=${since}`;
    try {
      await htmx.ajax("GET", address, { target: "#sheet", swap: "outerHTML" });
      history.replaceState(history.state, "", address);
    } finally {
      renewing = false;
    }
  }

  async function send() {
    if (sending) return;
    sending = true;
    const asked = at();
    let sent = false;
    try {
      for (const entry of kept().filter((one) => !one.no)) {
        const body = new URLSearchParams(entry.fields);
        body.set("began", entry.began || "");
        body.set("ago", String(Math.max(0, Math.round((Date.now() - entry.when) / 1000))));
        const reply = await fetch(entry.action, { method: "POST", body, redirect: "manual", headers: { "HX-Request": "true" } });
        unpaired = reply.status === 403;
        if (unpaired || reply.status >= 500) break;
        if (reply.type === "opaqueredirect") {
          keepAll(kept().filter((one) => one.once !== entry.once));
          sent ||= entry.job === job();
        } else {
          const page = new DOMParser().parseFromString(await reply.text(), "text/html");
          const why = page.querySelector(".oops, .refusal h1")?.textContent.replace(/\s+/g, " ").trim();
          keepAll(kept().map((one) => (one.once === entry.once ? { ...one, no: why || `status ${reply.status}` } : one)));
        }
      }
    } catch {
      reach(false);
    } finally {
      sending = false;
    }
    draw();
    if (sent) owed = asked;
    if (owed && inReach) await renew(asked);
  }

  // ---------------------------------------------------------------- checks fetched ahead

  function fetchAhead() {
    fetching?.abort();
    if (AT_LAPTOP || !job() || !sheet().querySelector("form.answer")) return;
    const mine = (fetching = new AbortController());
    const [id, asked] = [job(), at()];
    setTimeout(async () => {
      try {
        for (let nth = 0; nth < 3 && !mine.signal.aborted; nth += 1) {
          const reply = await fetch(`/job/${id}/ahead?at=${asked}&nth=${nth}`, { signal: mine.signal });
          if (reply.status !== 200) break;
          const found = await reply.json();
          if (asked !== at()) return;
          pieces.splice(found.first, Infinity, ...found.pieces);
          ahead[found.check] = found;
        }
        if (asked === at()) sheet().dataset.ahead = "all";
      } catch {
        // out of reach, or the sheet changed: there is nothing to show
      }
    }, CALM);
  }

  async function watch() {
    await look();
    setTimeout(watch, EVERY);
  }

  draw();
  fetchAhead();
  watch();
  addEventListener("online", look);
  document.addEventListener("visibilitychange", look);
})();
