// The form of a recording with a bar while it goes over, and a button that stops it; without scripts it is a plain form.
const form = document.getElementById("take");
const drop = form?.querySelector(".drop");
const reach = form?.querySelector(".reach");
const trouble = form?.querySelector("[role=alert]");

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const request = new XMLHttpRequest();
  const bar = reach.querySelector("progress");
  const over = (said) => {
    reach.hidden = true;
    trouble.hidden = !said;
    trouble.textContent = said;
  };
  request.upload.addEventListener("progress", (at) => { if (at.lengthComputable) bar.value = (100 * at.loaded) / at.total; });
  request.addEventListener("load", () => {
    if (request.status === 201) { location.assign("/work"); return; }
    let said = "It was not taken.";
    try { said = JSON.parse(request.responseText).error ?? said; } catch { said = request.responseText || said; }
    over(said);
  });
  request.addEventListener("error", () => over("The program did not answer: nothing was kept. Is it still running?"));
  request.addEventListener("abort", () => over("Stopped: nothing was kept."));
  reach.querySelector("button").onclick = () => request.abort();
  over("");
  reach.hidden = false;
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/json");
  request.send(new FormData(form));
});

for (const name of ["dragover", "dragleave", "drop"]) {
  drop?.addEventListener(name, () => drop.classList.toggle("over", name === "dragover"));
}
