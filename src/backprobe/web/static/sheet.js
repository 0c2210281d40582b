// The sheet works without this file. It says when the laptop is out of reach, shows that work is
// under way, and after an answer goes to what the answer changed.
"use strict";

const offline = document.getElementById("offline");
const busy = document.getElementById("busy");

document.addEventListener("htmx:error", () => {
  offline.hidden = false;
  offline.scrollIntoView({ block: "nearest" });
});

const follows = (event) => Boolean(event.detail?.ctx?.sourceElement?.closest?.(".working"));
// forms on their way
let sent = 0;

document.addEventListener("htmx:before:request", (event) => {
  offline.hidden = true;
  // that one says so itself
  if (follows(event)) return;
  sent += 1;
  busy.classList.add("on");
});

document.addEventListener("htmx:finally:request", (event) => {
  if (follows(event)) return;
  sent = Math.max(0, sent - 1);
  busy.classList.toggle("on", sent > 0);
});

// The rest of a sheet comes by itself: it does not take the place that is looked at, and stays away
// while a form is on its way, whose answer is the newer sheet.
let held = "", anchor = "", place = 0, rest = false;
const topOf = (id) => document.getElementById(id)?.getBoundingClientRect().top ?? NaN;
document.addEventListener("htmx:before:swap", (event) => {
  if (follows(event) && sent) return event.preventDefault();
  rest = Boolean(document.querySelector(".working")) && follows(event);
  held = document.activeElement?.id || "";
  anchor = held && topOf(held) > 0 && topOf(held) < innerHeight ? held : topOf("could") < innerHeight / 2 ? "could" : "";
  place = topOf(anchor);
});

let shown = document.getElementById("sheet");

document.addEventListener("htmx:after:swap", () => {
  const sheet = document.getElementById("sheet");
  // a picture came into the sheet that is there
  if (!sheet || sheet === shown) return;
  shown = sheet;
  document.dispatchEvent(new Event("sheet"));
  if (!rest || sheet.dataset.news) document.getElementById("live").textContent = sheet.dataset.news || "";
  const wrong = sheet.querySelector("[aria-invalid]") || sheet.querySelector(".oops");
  const first = wrong || document.getElementById("whatif") || document.getElementById("news") || document.getElementById("next");
  if (!first) return;
  const stay = rest && !wrong;
  const to = (stay && held && document.getElementById(held)) || first;
  if (to.tabIndex < 0) to.tabIndex = -1;
  to.focus({ preventScroll: true });
  if (!stay) to.scrollIntoView({ block: wrong ? "center" : "start" });
  else scrollBy(0, topOf(anchor) - place || 0);
});

// Where there is room, what each answer would tell and the circuit are there to be read.
const unfold = () => {
  if (!matchMedia("(min-width: 62rem)").matches) return;
  for (const fold of document.querySelectorAll(".check.main > .tell, #around")) fold.open = true;
};
document.addEventListener("sheet", unfold);
document.addEventListener("DOMContentLoaded", unfold);

// Into the sun and out of it without a new page, so that what was typed stays.
document.addEventListener("submit", (event) => {
  const form = event.target.closest(".sun-switch");
  if (!form) return;
  event.preventDefault();
  const wish = form.querySelector("button");
  const sent = fetch(form.action, { method: "POST", body: new FormData(form, wish), redirect: "manual", keepalive: true });
  // out of reach it holds for this page
  sent.catch(() => {});
  const on = document.documentElement.classList.toggle("sun", wish.value === "on");
  wish.setAttribute("aria-pressed", on);
  wish.value = on ? "off" : "on";
});
