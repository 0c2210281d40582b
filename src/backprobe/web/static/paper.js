// The page can be printed without this file, from the browser's own menu.
"use strict";

const print = document.getElementById("print");
print.hidden = false;
print.addEventListener("click", () => window.print());
