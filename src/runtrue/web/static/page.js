// What every page has: the class that tells style sheets that scripts run.
document.documentElement.classList.add("scripted");

// A key that a link or button names (`data-key`) presses it, unless something is being typed.
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest("input, select, textarea")) return;
  const found = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (found) { event.preventDefault(); found.click(); }
});
