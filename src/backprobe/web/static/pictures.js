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
