// Large number keys under a reading, for gloves on glass. Without this file, or with a keyboard,
// the field is typed into as any other.
"use strict";

const KEYS = [
  ["7"], ["8"], ["9"], ["\u232b", "delete the last figure"],
  ["4"], ["5"], ["6"], ["\u2212", "minus"],
  ["1"], ["2"], ["3"], [",", "comma"],
  ["0"], ["Jumps to", "jumps to", 2], ["abc", "abc, phone keys"],
];

function press(key, form) {
  const to = form.querySelector('input[name="to"]');
  const value = form.querySelector('input[name="value"]');
  const field = form.typing || value;
  if (key === "jumps to") {
    const jumps = to.closest("details");
    if (jumps) jumps.open = true;
    form.typing = to;
    to.focus();
  } else if (key === "abc, phone keys") {
    const own = value.inputMode === "none";
    for (const one of [value, to]) if (one) one.inputMode = own ? "decimal" : "none";
    if (own) field.focus();
    else field.blur();
  } else if (key === "delete the last figure") {
    field.value = field.value.slice(0, -1);
  } else if (key === "minus") {
    field.value = field.value.startsWith("-") ? field.value.slice(1) : `-${field.value}`;
  } else if (field.value.length < 12) {
    field.value += key === "comma" ? "," : key;
  }
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function pad(read) {
  const form = read.closest("form");
  const group = document.createElement("div");
  group.className = "pad";
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", "Number keys");
  for (const [shown, name, wide] of KEYS) {
    if (name === "jumps to" && !form.querySelector('input[name="to"]')) continue;
    const key = document.createElement("button");
    key.type = "button";
    key.className = wide ? "plain wide" : "plain";
    key.textContent = shown;
    if (name) key.setAttribute("aria-label", name);
    key.addEventListener("click", () => press(name || shown, form));
    group.append(key);
  }
  for (const field of form.querySelectorAll('input[name="value"], input[name="to"]')) {
    field.inputMode = "none";
    field.addEventListener("focus", () => { form.typing = field; });
  }
  read.append(group);
}

function pads() {
  if (!matchMedia("(pointer: coarse)").matches) return;
  for (const read of document.querySelectorAll("form .read:not(:has(.pad))")) pad(read);
}

document.addEventListener("htmx:after:swap", pads);
pads();
