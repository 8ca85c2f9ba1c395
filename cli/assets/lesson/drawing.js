// Small helpers for drawing with SVG and for marks that can be dragged or moved with the arrow keys.

const SVG = "http://www.w3.org/2000/svg";

/** An SVG element with attributes, added to a parent. */
function draw(parent, tag, attributes = {}, text = null) {
  const element = document.createElementNS(SVG, tag);
  set(element, attributes);
  if (text !== null) element.textContent = text;
  parent.append(element);
  return element;
}

function set(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
}

const n2 = (v) => Math.round(100 * v) / 100;

/** A path through points on the sheet. */
const line = (list) => list.map(([x, y], k) => `${k ? "L" : "M"}${n2(x)} ${n2(y)}`).join("");
const rings = (list, at) => list.map((ring) => `${line(ring.map(at))}Z`).join("");

/** An arrow's shaft and head as one path. */
function arrowPath([x0, y0], [x1, y1], head = 12, half = 5) {
  const length = Math.hypot(x1 - x0, y1 - y0);
  if (length < 1) return "";
  const [ex, ey] = [(x1 - x0) / length, (y1 - y0) / length];
  const h = Math.min(head, 0.8 * length);
  const [nx, ny] = [x1 - h * ex, y1 - h * ey];
  const w = (half * h) / head;
  return `M${n2(x0)} ${n2(y0)}L${n2(nx)} ${n2(ny)}M${n2(nx - w * ey)} ${n2(ny + w * ex)}L${n2(x1)} ${n2(y1)}` +
    `L${n2(nx + w * ey)} ${n2(ny - w * ex)}Z`;
}

/** Where an event lies on a sheet, in its own units. */
function placeOn(svg, event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return [point.x, point.y];
}

/** Lets a pointer drag: `move` is called with places on the sheet. */
function draggable(target, svg, move) {
  target.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    target.setPointerCapture(event.pointerId);
    move(placeOn(svg, event));
    event.preventDefault();
  });
  target.addEventListener("pointermove", (event) => {
    if (target.hasPointerCapture(event.pointerId)) move(placeOn(svg, event));
  });
}

/** Lets the arrow keys move something: `step` gets the steps to the right and upward. */
function steerable(target, step) {
  const keys = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  target.addEventListener("keydown", (event) => {
    const way = keys[event.key];
    if (!way) return;
    const times = event.shiftKey ? 10 : 1;
    step(way[0] * times, way[1] * times);
    event.preventDefault();
  });
}

const clamp = (v, low, high) => Math.min(high, Math.max(low, v));

/** Round values 1, 2 or 5 times a power of ten apart, about `count` of them. */
function roundTicks(low, high, count) {
  const rough = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].find((s) => s * power >= 0.999 * rough) * power;
  const ticks = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9; k += 1) ticks.push(k * step);
  return ticks;
}

