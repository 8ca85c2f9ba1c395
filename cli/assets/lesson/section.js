// The section: each tooth in its socket, at rest and moved, with ligament pressure, line of force and both centres.

const PANEL = { width: 340, height: 470 };
/** kPa at the ends of the colours: near the largest pressure under a plain push of one newton, the middle of all teeth. */
const PRESSURE_END = (() => {
  const largest = TEETH.map((tooth) => {
    const load = { height: tooth.load.height_mm, force: 1, torque: 0 };
    return rootPressures(tooth, weightsOn(tooth, load)).reduce((most, p) => Math.max(most, Math.abs(p)), 0);
  }).reduce((product, p) => product * p ** (1 / TEETH.length), 1);
  const power = 10 ** Math.floor(Math.log10(largest));
  return [1, 1.5, 2, 3, 4, 5, 6, 8, 10].map((s) => s * power).find((v) => v >= largest * 0.999999);
})();

/** Millimetres to the sheet: the same scale for both teeth, the cemento-enamel junction at the same height. */
function viewOf(shown) {
  const reach = (f, pick) => shown.map(f).reduce((a, b) => pick(a, b));
  const top = reach((t) => t.cuspHeight - t.landmarks.cej_height_mm, Math.max) + 3.4;
  const bottom = reach((t) => -t.apexDepth - t.landmarks.cej_height_mm, Math.min) - 2.8;
  const widest = shown.flatMap((t) => t.section.silhouette.flat()).reduce((w, [x]) => Math.max(w, Math.abs(x)), 1);
  const scale = Math.min(PANEL.height / (top - bottom), PANEL.width / (2 * widest + 9));
  return { scale, top, x0: PANEL.width / 2, y0: 0.5 * (PANEL.height - scale * (top - bottom)) + scale * top };
}

/** One panel. */
class SectionPanel {
  constructor(holder) {
    this.holder = holder;
    this.svg = draw(holder.querySelector(".sheet"), "svg", {
      viewBox: `0 0 ${PANEL.width} ${PANEL.height}`, role: "img",
    });
    this.caption = holder.querySelector("figcaption");
  }

  /** Draws what does not move. */
  build(tooth, view) {
    this.tooth = tooth;
    this.view = view;
    this.svg.replaceChildren();
    const { x0, y0, scale } = view;
    const cej = tooth.landmarks.cej_height_mm;
    this.at = ([x, z]) => [x0 + scale * x, y0 - scale * (z - cej)];
    const at = this.at;
    const { section } = tooth;
    const { svg } = this;
    const crest = at([0, 0])[1];
    const clip = `below-crest-${this.holder.id}`;
    const defs = draw(svg, "defs");
    draw(draw(defs, "clipPath", { id: clip }), "rect", { x: 0, y: crest, width: PANEL.width, height: PANEL.height });
    draw(svg, "path", { class: "cancellous", d: rings(section.cancellous, at) });
    draw(svg, "path", { class: "cortical", d: rings(section.cortical, at) });
    draw(svg, "path", { class: "behind", d: rings(section.silhouette, at) });
    draw(svg, "path", { class: "tooth", d: rings(section.tooth, at), "fill-rule": "evenodd" });
    const band = draw(svg, "g", { "clip-path": `url(#${clip})` });
    this.pieces = section.ligament.flatMap((strip) => {
      const pieces = [];
      for (let k = 1; k < strip.inner.length; k += 1) {
        const corners = [strip.inner[k - 1], strip.inner[k], strip.outer[k], strip.outer[k - 1]].map(at);
        pieces.push({ element: draw(band, "path", { d: `${line(corners)}Z`, class: "piece" }), strip, k, colour: "" });
      }
      draw(band, "path", { d: line(strip.outer.map(at)), class: "wall" });
      draw(band, "path", { d: line(strip.inner.map(at)), class: "root-line" });
      return pieces;
    });
    draw(svg, "path", { class: "crest", d: line([[0, crest], [PANEL.width, crest]]) });
    draw(svg, "text", { class: "label", x: 4, y: crest - 6 }, say("alveolar crest"));
    const axis = [at([0, tooth.cuspHeight + 1.2])[1], at([0, -tooth.apexDepth - 1.6])[1]];
    draw(svg, "path", { class: "long-axis", d: line(axis.map((y) => [x0, y])) });
    draw(svg, "text", { class: "direction", x: 4, y: PANEL.height - 6 }, tooth.words.inward);
    draw(svg, "text", { class: "direction", x: PANEL.width - 4, y: PANEL.height - 6, "text-anchor": "end" }, tooth.words.outward);
    this.moved = draw(svg, "path", { class: "moved", d: rings(section.silhouette, at) });
    this.forceLine = draw(svg, "path", { class: "force-line" });
    const centre = at([0, -tooth.resistance.depth]);
    const mark = draw(svg, "g", { class: "resistance-mark", transform: `translate(${centre.map(n2)})` });
    draw(mark, "circle", { r: 8 });
    draw(mark, "circle", { r: 2.6, class: "dot" });
    draw(svg, "text", { class: "label resistance-ink", x: x0 - 14, y: centre[1] + 4, "text-anchor": "end" }, say("centre of resistance"));
    this.rotation = draw(svg, "g", { class: "rotation-mark" });
    draw(this.rotation, "circle", { r: 8 });
    draw(this.rotation, "path", { d: "M-5 0H5M0 -5V5" });
    this.rotationArrow = draw(svg, "path", { class: "rotation-arrow" });
    this.rotationName = draw(svg, "text", { class: "label moved-ink" });
    this.torque = draw(svg, "path", { class: "torque" });
    this.torqueHead = draw(svg, "path", { class: "torque-head" });
    this.force = draw(svg, "path", { class: "force" });
    this.forceName = draw(svg, "text", { class: "label load-ink" });
    this.handle = draw(svg, "circle", { class: "handle", r: 7 });
    draw(this.handle, "title", {}, say("Attachment: drag it up or down"));
    draggable(this.handle, svg, ([, y]) => {
      const height = (y0 - y) / scale + cej;
      change({ lift: clampLift(height - tooth.load.height_mm) });
    });
  }

  /** Moves what moves. */
  show(result) {
    const { tooth, at, view } = this;
    const { load, motion } = result;
    const { scale } = view;
    // A true turn about the centre of rotation, so that the tooth keeps its size.
    const { turn, shift } = carriedOn(motion, enlargementOf(tooth, result));
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const [px, py] = at([0, -tooth.resistance.depth]);
    const tx = px + scale * shift[0] - cos * px + sin * py;
    const ty = py - scale * shift[1] - sin * px - cos * py;
    this.moved.setAttribute("transform", `matrix(${cos} ${sin} ${-sin} ${cos} ${tx} ${ty})`);
    const weights = weightsOn(tooth, load);
    for (const piece of this.pieces) {
      const { kpa, inner } = piece.strip;
      let p = 0;
      for (let m = 0; m < 6; m += 1) {
        const base = m * inner.length + piece.k;
        p += weights[m] * 0.5 * (kpa[base - 1] + kpa[base]);
      }
      const colour = colourOf("pressure", p / PRESSURE_END);
      if (colour !== piece.colour) {
        piece.element.setAttribute("fill", colour);
        piece.element.setAttribute("stroke", colour);
        piece.colour = colour;
      }
    }
    this.showLoad(load);
    this.showRotation(motion.rotationDepth, load);
    this.caption.replaceChildren(...captionOf(tooth, result));
    this.svg.setAttribute("aria-label", tell("{}: {}, centre of rotation {}", tooth.title, say(result.movement), placeOf(result.rotationDepth)));
  }

  showLoad(load) {
    const [x, , ] = this.tooth.landmarks.attachment_mm;
    const [ax, ay] = this.at([x, load.height]);
    this.forceLine.setAttribute("d", line([[0, ay], [PANEL.width, ay]]));
    set(this.handle, { cx: n2(ax), cy: n2(ay) });
    const sense = Math.sign(load.force);
    const length = load.force === 0 ? 0 : 24 + 42 * Math.abs(load.force);
    // On the far side the arrow leaves the crown, on the near side it meets it.
    const [from, to] = sense * x >= 0 ? [[ax, ay], [ax + sense * length, ay]] : [[ax - sense * length, ay], [ax, ay]];
    this.force.setAttribute("d", length ? arrowPath(from, to, 14, 6) : "");
    const middle = clamp(0.5 * (from[0] + to[0]), 44, PANEL.width - 44);
    set(this.forceName, { x: n2(middle), y: n2(ay + 22), "text-anchor": "middle" });
    this.forceName.textContent = load.force === 0 ? "" : `${fixed(Math.abs(load.force), 2)} N`;
    // Buccal root torque turns the root to buccal: on the sheet against the clock.
    const way = Math.sign(load.torque);
    const span = way === 0 ? 0 : clamp(60 + 10 * Math.abs(load.torque), 0, 300);
    const point = (angle) => {
      const a = ((-way * angle + (way > 0 ? -20 : 200)) * Math.PI) / 180;
      return [ax + 26 * Math.cos(a), ay + 26 * Math.sin(a)];
    };
    const arc = Array.from({ length: 33 }, (_, k) => point((span * k) / 32));
    this.torque.setAttribute("d", way ? line(arc) : "");
    if (way) {
      const [tip, base] = [point(span + 22), point(span - 4)];
      const [nx, ny] = [(tip[1] - base[1]) * 0.45, -(tip[0] - base[0]) * 0.45];
      this.torqueHead.setAttribute("d", `${line([[base[0] + nx, base[1] + ny], tip, [base[0] - nx, base[1] - ny]])}Z`);
    } else {
      this.torqueHead.setAttribute("d", "");
    }
  }

  showRotation(depth, load) {
    const { x0 } = this.view;
    const still = load.force === 0 && load.torque === 0;
    const place = depth === null ? null : this.at([0, -depth]);
    const inside = place && place[1] > 14 && place[1] < PANEL.height - 24;
    this.rotation.setAttribute("visibility", inside && !still ? "visible" : "hidden");
    if (inside) this.rotation.setAttribute("transform", `translate(${n2(x0)} ${n2(place[1])})`);
    const down = depth === null || depth > 0;
    const y = down ? PANEL.height - 30 : 26;
    this.rotationArrow.setAttribute("d", inside || still ? "" : arrowPath([x0, y - (down ? 24 : -24)], [x0, y], 12, 6));
    const name = this.rotationName;
    name.textContent = say(depth === null ? noted("centre of rotation at infinity") : noted("centre of rotation"));
    name.setAttribute("visibility", still ? "hidden" : "visible");
    const nameY = inside ? place[1] + 5 : y + (down ? -8 : 4);
    // To the right of the mark where there is room, and clear of the name of the force.
    const x = Math.max(4, Math.min(x0 + 14, PANEL.width - 4 - name.getComputedTextLength()));
    const [, ay] = this.at([0, load.height]);
    set(name, { x: n2(x), y: n2(nameY) });
    this.forceName.setAttribute("y", n2(Math.abs(nameY - ay - 22) < 20 ? ay - 14 : ay + 22));
  }
}

/** Name, kind of movement, and where the tooth turns. */
function captionOf(tooth, result) {
  const part = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });
  return [
    part("strong", tooth.title),
    part("span", upper(say(result.movement))),
    Object.assign(part("span", tell("turns {}", placeOf(result.rotationDepth))), { className: "rest" }),
    Object.assign(part("span", perMm(result.tipPerMm)), { className: "rest" }),
  ];
}

/** Keeps the attachment on the crown of the main tooth. */
function clampLift(lift) {
  const { load, ranges } = mainTooth();
  return clamp(lift, ranges.height_mm[0] - load.height_mm, ranges.height_mm[1] - load.height_mm);
}

const panels = {
  main: new SectionPanel(document.getElementById("section-main")),
  beside: new SectionPanel(document.getElementById("section-beside")),
};

/** Draws the panels anew for the chosen teeth. */
function buildSections() {
  const shown = [mainTooth(), besideTooth()].filter(Boolean);
  const view = viewOf(shown);
  panels.main.build(mainTooth(), view);
  panels.beside.holder.hidden = !besideTooth();
  if (besideTooth()) panels.beside.build(besideTooth(), view);
  document.getElementById("sections").classList.toggle("pair", shown.length > 1);
}

onChange((results) => {
  panels.main.show(results.main);
  if (results.beside) panels.beside.show(results.beside);
});

