// The sheet works without this file. It says when the laptop is out of reach, shows that work is
// under way, and after an answer goes to what the answer changed.
"use strict";

const offline = document.getElementById("offline");
const busy = document.getElementById("busy");

document.addEventListener("htmx:error", () => {
  offline.hidden = false;
  offline.scrollIntoView({ block: "nearest" });
});

document.addEventListener("htmx:before:request", (event) => {
  offline.hidden = true;
  if (!event.target.closest?.(".working")) busy.classList.add("on");  // that one says so itself
});

document.addEventListener("htmx:finally:request", () => busy.classList.remove("on"));

// What is typed into the line while the first look is under way stays when the whole sheet comes.
let line = "";
document.addEventListener("htmx:before:swap", () => {
  line = document.querySelector(".working") ? document.getElementById("say")?.value || "" : "";
});

let shown = document.getElementById("sheet");

document.addEventListener("htmx:after:swap", () => {
  const sheet = document.getElementById("sheet");
  if (!sheet || sheet === shown) return;  // a picture came into the sheet that is there
  shown = sheet;
  const say = document.getElementById("say");
  if (line && say && !say.value) say.value = line;
  document.dispatchEvent(new Event("sheet"));
  document.getElementById("live").textContent = sheet.dataset.news || "";
  const wrong = sheet.querySelector("[aria-invalid]") || sheet.querySelector(".oops");
  const first = wrong || document.getElementById("whatif") || document.getElementById("news") || document.getElementById("next");
  if (!first) return;
  if (first.tabIndex < 0) first.tabIndex = -1;
  first.focus({ preventScroll: true });
  first.scrollIntoView({ block: wrong ? "center" : "start" });
});

// Into the sun and out of it without a new page, so that what was typed stays.
document.addEventListener("submit", (event) => {
  const form = event.target.closest(".sun-switch");
  if (!form) return;
  event.preventDefault();
  const wish = form.querySelector("button");
  const sent = fetch(form.action, { method: "POST", body: new FormData(form, wish), redirect: "manual" });
  sent.catch(() => {});  // out of reach it holds for this page
  const on = document.documentElement.classList.toggle("sun", wish.value === "on");
  wish.setAttribute("aria-pressed", on);
  wish.value = on ? "off" : "on";
});
