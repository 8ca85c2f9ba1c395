// Labels that keep clear of each other: each is written at the first of some places where it covers no other label, crosses
// no line and stays on its sheet.

/** Corners of a text's box, turned about its place. */
function boxOf({ x, y, angle = 0, anchor = "start" }, width, size) {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const from = anchor === "middle" ? -0.5 * width : anchor === "end" ? -width : 0;
  return [[from, -0.8 * size], [from + width, -0.8 * size], [from + width, 0.25 * size], [from, 0.25 * size]]
    .map(([u, v]) => [x + cos * u - sin * v, y + sin * u + cos * v]);
}

/** Do two convex shapes share a place? Shapes are lists of corners; two corners are a line. */
function overlap(a, b) {
  const across = (shape) => shape.map((p, k) => {
    const q = shape[(k + 1) % shape.length];
    return [p[1] - q[1], q[0] - p[0]];
  });
  return [...across(a), ...across(b)].filter((n) => Math.hypot(...n) > 1e-9).every((n) => {
    const range = (shape) => shape.map((p) => dot(p, n)).reduce(([low, high], v) => [Math.min(low, v), Math.max(high, v)], [Infinity, -Infinity]);
    const [p, q] = [range(a), range(b)];
    return p[0] < q[1] && q[0] < p[1];
  });
}

class Labels {
  /** For a sheet whose free room is from `low` to `high`. */
  constructor(parent, low, high) {
    Object.assign(this, { parent, low, high, boxes: [], lines: [] });
  }

  /** A line that labels do not cross. */
  avoid(list) {
    for (let k = 1; k < list.length; k += 1) this.lines.push([list[k - 1], list[k]]);
  }

  /** Is a box free? Its size is grown a little, so that labels do not touch. */
  isFree(box) {
    const inside = box.every(([x, y]) => x >= this.low[0] && x <= this.high[0] && y >= this.low[1] && y <= this.high[1]);
    return inside && ![...this.boxes, ...this.lines].some((other) => overlap(box, other));
  }

  /** Writes a text at the first free place; gives the element, or null where there is none. */
  write(text, className, places) {
    const label = draw(this.parent, "text", { class: className }, text);
    const width = label.getComputedTextLength();
    const size = parseFloat(getComputedStyle(label).fontSize);
    const free = places.find((place) => this.isFree(boxOf(place, width + 6, size + 2)));
    if (!free) {
      label.remove();
      return null;
    }
    const { x, y, angle = 0, anchor = "start" } = free;
    set(label, { transform: `translate(${n2(x)} ${n2(y)}) rotate(${n2((angle * 180) / Math.PI)})`, "text-anchor": anchor });
    this.boxes.push(boxOf(free, width + 6, size + 2));
    return label;
  }
}

/** Places along a line on either side of it, those near a share of its length first. */
function placesAlong(list, near, size = 13) {
  const lengths = list.map((p, k) => (k ? Math.hypot(p[0] - list[k - 1][0], p[1] - list[k - 1][1]) : 0));
  const total = lengths.reduce((sum, v) => sum + v, 0);
  const shares = Array.from({ length: 37 }, (_, k) => 0.05 + 0.025 * k).sort((a, b) => Math.abs(a - near) - Math.abs(b - near));
  return shares.flatMap((share) => {
    let [k, left] = [1, share * total];
    while (k + 1 < list.length && left > lengths[k]) left -= lengths[k++];
    const [p, q] = [list[k - 1], list[k]];
    const t = lengths[k] > 0 ? left / lengths[k] : 0;
    const [dx, dy] = q[0] >= p[0] ? minus(q, p) : minus(p, q);
    const angle = Math.atan2(dy, dx);
    const at = plus(p, times(minus(q, p), t));
    // Above the line, or below it.
    return [-0.5 * size, 1.15 * size].map((off) => ({
      x: at[0] - off * Math.sin(angle), y: at[1] + off * Math.cos(angle), angle, anchor: "middle",
    }));
  });
}
