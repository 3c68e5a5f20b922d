// What every page has: the class that tells style sheets that scripts run.
document.documentElement.classList.add("scripted");
