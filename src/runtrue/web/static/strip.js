// A touch on the strip along the side goes to that place: its sound, its place on the disc.
const host = document.getElementById("strip");

for (const picture of host?.querySelectorAll("[data-from]") ?? []) {
  picture.classList.add("touchable");
  picture.addEventListener("click", (event) => {
    const box = picture.getBoundingClientRect();
    const from = Number(picture.dataset.from);
    const share = ((event.clientX - box.left) / box.width - from) / (Number(picture.dataset.to) - from);
    if (share < 0 || share > 1) return;
    location.assign(`${host.dataset.here}?at=${(share * Number(host.dataset.duration)).toFixed(3)}#hear`);
  });
}
