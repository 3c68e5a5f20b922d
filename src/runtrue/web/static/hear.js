// One player for the page: a link to a sound becomes a button that plays it, then what `data-then` names.
const player = new Audio();
window.runtrueSound = player; // for who wants to know what plays
player.preload = "auto";
let pressed = null;
let queue = [];

function stop() {
  player.pause();
  pressed?.classList.remove("playing");
  pressed?.setAttribute("aria-pressed", "false");
  pressed = null;
}

async function next() {
  const source = queue.shift();
  for (const link of document.querySelectorAll("a.hear.now")) link.classList.remove("now");
  if (!source) return stop();
  for (const link of document.querySelectorAll("a.hear")) link.classList.toggle("now", link.href === new URL(source, location).href);
  player.src = source;
  try { await player.play(); } catch { stop(); }
}

function press(link) {
  const again = pressed === link;
  stop();
  if (again) return;
  pressed = link;
  link.classList.add("playing");
  link.setAttribute("aria-pressed", "true");
  queue = [link.href, ...(link.dataset.then ?? "").split(" ")].filter(Boolean);
  next();
}

player.addEventListener("ended", next);
player.addEventListener("error", stop);
for (const link of document.querySelectorAll("a.hear")) {
  link.setAttribute("role", "button");
  link.setAttribute("aria-pressed", "false");
  link.addEventListener("click", (event) => { event.preventDefault(); press(link); });
  link.addEventListener("keydown", (event) => { if (event.key === " ") { event.preventDefault(); press(link); } });
}
