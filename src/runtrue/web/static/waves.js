// Capture, reference and difference about a fault, to the sample; drag across to enlarge, or use the buttons.
const NAMES = ["Capture", "Reference", "Difference"];
const SPANS = [["10 ms", 5], ["60 ms", 30], ["1 s", 500], ["All", 2000]];

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

function options(name, wide, key, height) {
  const axis = { stroke: colour("ink-2"), grid: { stroke: colour("hair"), width: 1 }, ticks: { stroke: colour("line"), width: 1 }, font: '14px "Atkinson Hyperlegible Next"' };
  return {
    width: wide, height, legend: { show: false },
    cursor: { sync: { key }, drag: { x: true, y: false }, points: { show: false } },
    scales: { x: { time: false }, y: { auto: true } },
    axes: [{ ...axis, values: (_, at) => at.map((v) => `${String(v).replace("-", "−")} ms`) }, { ...axis, size: 64, values: (_, at) => at.map((v) => String(v).replace("-", "−")) }],
    series: [{}, { stroke: colour(name === "Difference" ? "petrol" : "ink"), width: 1, points: { show: false } }],
  };
}

async function show(host) {
  const answer = await fetch(host.dataset.waves);
  if (!answer.ok) return;
  const buffer = await answer.arrayBuffer();
  const [step, count, start] = new Float32Array(buffer, 0, 3);
  const column = (k) => new Float32Array(buffer, 12 + 4 * count * k, count);
  const time = Float64Array.from({ length: count }, (_, k) => 1000 * (start + k * step));
  const plots = NAMES.map((name, k) => {
    const left = column(2 * k);
    const right = column(2 * k + 1);
    const middle = Float32Array.from(left, (v, i) => 0.5 * (v + right[i]));
    const box = document.createElement("div");
    const title = document.createElement("h3");
    title.textContent = name;
    box.append(title);
    host.append(box);
    return new uPlot(options(name, host.clientWidth, "waves", 130), [time, middle], box);
  });
  const tools = document.createElement("div");
  tools.className = "choices";
  const zoom = (half) => plots.forEach((plot) => plot.setScale("x", { min: Math.max(-half, time[0]), max: Math.min(half, time[count - 1]) }));
  for (const [words, half] of SPANS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words;
    button.addEventListener("click", () => zoom(half));
    tools.append(button);
  }
  host.prepend(tools);
  zoom(30);
  new ResizeObserver(() => plots.forEach((plot) => plot.setSize({ width: host.clientWidth, height: 130 }))).observe(host);
}

const host = document.getElementById("waves");
if (host && globalThis.uPlot) show(host);
