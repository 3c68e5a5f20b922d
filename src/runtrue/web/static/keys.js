// Large keys for a list of entries, and the answer anew after each: the same page, asked for again.
const form = document.querySelector("form[data-live]");
const pad = document.querySelector(".pad");
const [place, value] = pad.querySelectorAll(".asked span, .asked b");
const fields = () => [...form.querySelectorAll("[data-entry]")];
let at = fields().find((one) => one.autofocus) ?? fields().find((one) => !one.value) ?? fields()[0];
let waiting = null;
let asking = null;

pad.hidden = false;
pad.closest(".pad-sheet")?.removeAttribute("hidden");

function show() {
  place.textContent = at.dataset.place;
  value.textContent = at.value.replace("-", "\u2212") || "\u2007";
  for (const one of fields()) one.closest("tr").classList.toggle("present", one === at);
}

async function ask() {
  asking?.abort();
  asking = new AbortController();
  const asked = new URLSearchParams(new FormData(form));
  asked.delete("token");
  try {
    const answer = await fetch(`${location.pathname}?${asked}`, { signal: asking.signal });
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const id of ["said", "answer"]) document.getElementById(id).replaceChildren(...page.getElementById(id).childNodes);
    const fits = page.querySelectorAll("[data-fit]");
    form.querySelectorAll("[data-fit]").forEach((cell, index) => { cell.replaceChildren(...(fits[index]?.childNodes ?? [])); });
    form.querySelector(".do")?.replaceChildren(...page.querySelector("#readings .do").childNodes);
  } catch (error) {
    if (error.name !== "AbortError") throw error;
  }
}

function soon() {
  show();
  clearTimeout(waiting);
  if (fields().filter((one) => one.value).length >= Number(form.dataset.live || 1)) waiting = setTimeout(ask, 250);
}

form.addEventListener("focusin", (event) => { if ("entry" in event.target.dataset) { at = event.target; show(); } });
form.addEventListener("input", (event) => { if (event.target.name !== "scan" && event.target.name !== "batch_kg") soon(); });
form.addEventListener("change", (event) => {
  if (event.target.name === "places" || event.target.name === "batch_kg") form.requestSubmit();
  else if (event.target.tagName === "SELECT") soon();
});
form.addEventListener("keydown", (event) => {
  const next = fields()[fields().indexOf(event.target) + 1];
  if (event.key === "Enter" && "entry" in event.target.dataset && next) { event.preventDefault(); next.focus(); }
});
pad.addEventListener("click", (event) => {
  const key = event.target.closest("button")?.dataset.key;
  if (!key) return;
  if (key === "next") {
    at = fields()[(fields().indexOf(at) + 1) % fields().length];
    show();
    return;
  }
  if (key === "back") at.value = at.value.slice(0, -1);
  else if (key === "-") at.value = at.value.startsWith("-") ? at.value.slice(1) : `-${at.value}`;
  else if (at.value.length < at.maxLength && !(key === "." && at.value.includes("."))) at.value += key;
  soon();
});
show();
