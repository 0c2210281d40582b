// The pictures work without this file. It puts a changed picture in place of the old one, so that
// what was scrolled to stays in sight, and makes it larger or smaller.
"use strict";

const picture = () => document.getElementById("picture");

document.addEventListener("click", (event) => {
  const link = event.target.closest("#picture a[href]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  const address = link.getAttribute("href");
  event.preventDefault();
  htmx.ajax("GET", address.split("#")[0], { target: "#picture", swap: "outerMorph" }).then(() => {
    history.replaceState(null, "", address);
    const pin = address.endsWith("#pin") && document.getElementById("pin");
    if (!pin) return;
    pin.focus({ preventScroll: true });
    pin.scrollIntoView({ block: "start", behavior: "smooth" });
  });
});

const STEPS = [0.6, 0.8, 1, 1.3, 1.7];
const LEAST_FIT = 0.9;
let step = STEPS.indexOf(1);

function resize() {
  for (const bar of document.querySelectorAll(".zoom")) bar.hidden = false;
  for (const svg of document.querySelectorAll(".frame svg")) {
    const box = svg.viewBox.baseVal;
    // a little too wide for a small phone: a little smaller, so that nothing of it is cut
    const fit = svg.parentElement.clientWidth / box.width;
    const scale = STEPS[step] * (fit < 1 && fit > LEAST_FIT ? fit : 1);
    svg.setAttribute("width", box.width * scale);
    svg.setAttribute("height", box.height * scale);
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-zoom]");
  if (!button) return;
  step = Math.min(STEPS.length - 1, Math.max(0, step + Number(button.dataset.zoom)));
  resize();
});

document.addEventListener("htmx:after:swap", resize);
resize();

// Beside a picture there is room for the table.
const unfolded = () => {
  if (!matchMedia("(min-width: 62rem)").matches) return;
  for (const fold of document.querySelectorAll(".told > .more")) fold.open = true;
};
document.addEventListener("htmx:after:swap", unfolded);
unfolded();
