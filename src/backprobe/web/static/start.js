// While serial number, complaint and codes are typed, jobs on this machine are shown, and the
// questions that tell most come first. Nothing moves once a finger is among the questions; without
// this file they stand as the book has them.
"use strict";

const form = document.querySelector("form.start");
const works = () => document.getElementById("works");
let pause;

function told() {
  const said = new URLSearchParams();
  for (const one of form.querySelectorAll("[data-told], #works input:checked")) said.append(one.name, one.value);
  return said.toString();
}

async function ask() {
  const said = told();
  const answer = await fetch(works().dataset.ask, { method: "POST", body: new URLSearchParams(said) }).catch(() => null);
  if (!answer?.ok) return;
  const asked = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (said !== told() || works().contains(document.activeElement)) return;
  for (const id of ["seen", "works"]) document.getElementById(id).replaceWith(asked.getElementById(id));
}

form.addEventListener("input", (event) => {
  clearTimeout(pause);
  if (event.target.matches("[data-told]")) pause = setTimeout(ask, 400);
});
