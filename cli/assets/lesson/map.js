// The map: tip for each millimetre over attachment height and torque for each newton, with the borders between the kinds
// of movement. The colours are computed point by point for the tooth at hand.

const MAP = { get width() { return NARROW.matches ? 400 : 560; }, height: 440, left: 62, top: 14, right: 74, bottom: 50 };
/** Colours reach their ends here, degrees/mm. */
const TIP_END = 8;

const map = {
  holder: document.getElementById("map"),
  canvas: document.createElement("canvas"),
};
map.holder.append(map.canvas);
map.svg = draw(map.holder, "svg", {
  role: "group", "aria-label": say("Map of tip for each millimetre over attachment height and torque"),
});
Object.assign(map.canvas, { width: 424, height: 376 });

/** Fills the canvas: one colour for each degree for each millimetre, grey where the attachment goes back. */
function paintMap() {
  const { resistance } = mainTooth();
  const { width, height } = map.canvas;
  const context = map.canvas.getContext("2d");
  const image = context.createImageData(width, height);
  const band = scaleTable("tip", 2 * 2 * TIP_END + 1);
  const reversed = inkOf("reversed").match(/[0-9a-f]{2}/gi).map((hex) => parseInt(hex, 16));
  const lines = inkOf("reversed-lines").match(/[0-9a-f]{2}/gi).map((hex) => parseInt(hex, 16));
  for (let j = 0; j < height; j += 1) {
    const z = map.heights[1] + ((map.heights[0] - map.heights[1]) * (j + 0.5)) / height;
    const lever = z + resistance.depth;
    for (let i = 0; i < width; i += 1) {
      const arm = lever - (map.ratios[0] + ((map.ratios[1] - map.ratios[0]) * (i + 0.5)) / width);
      const travel = resistance.sigmaSquared + arm * lever;
      const hatch = (i + j) % 12 < 2 ? lines : reversed;
      const step = clamp(Math.floor((arm * DEGREES) / travel), -TIP_END, TIP_END - 1);
      const rgb = travel <= 0 ? hatch : band[2 * (step + TIP_END) + 1];
      image.data.set([...rgb, 255], 4 * (j * width + i));
    }
  }
  context.putImageData(image, 0, 0);
}

function buildMap() {
  const tooth = mainTooth();
  const { svg } = map;
  svg.replaceChildren();
  svg.setAttribute("viewBox", `0 0 ${MAP.width} ${MAP.height}`);
  const share = (length, of) => `${(100 * length) / of}%`;
  Object.assign(map.canvas.style, {
    left: share(MAP.left, MAP.width), width: share(MAP.width - MAP.left - MAP.right, MAP.width),
    top: share(MAP.top, MAP.height), height: share(MAP.height - MAP.top - MAP.bottom, MAP.height),
  });
  [map.ratios, map.heights] = [tooth.ranges.moment_to_force_mm, tooth.ranges.height_mm];
  const [left, right, top, floor] = [MAP.left, MAP.width - MAP.right, MAP.top, MAP.height - MAP.bottom];
  map.x = (ratio) => left + ((right - left) * (ratio - map.ratios[0])) / (map.ratios[1] - map.ratios[0]);
  map.y = (z) => floor - ((floor - top) * (z - map.heights[0])) / (map.heights[1] - map.heights[0]);
  paintMap();
  const clip = draw(draw(svg, "defs"), "clipPath", { id: "map-clip" });
  draw(clip, "rect", { x: left, y: top, width: right - left, height: floor - top });
  const inside = draw(svg, "g", { "clip-path": "url(#map-clip)" });
  // Borders first, then their names and those of the regions, clear of all of them.
  const labels = new Labels(inside, [left + 2, top + 2], [right - 2, floor - 2]);
  const border = (ratioAt, className) => {
    const list = Array.from({ length: 61 }, (_, k) => {
      const z = map.heights[0] + ((map.heights[1] - map.heights[0]) * k) / 60;
      return [map.x(ratioAt(z)), map.y(z)];
    });
    draw(inside, "path", { class: className, d: line(list) });
    labels.avoid(list);
    // Names stand where the line is on the sheet.
    return list.filter(([x]) => x > left && x < right);
  };
  const { resistance } = tooth;
  const apex = border((z) => ratioForDepth(resistance, z, tooth.apexDepth), "border");
  const translation = border((z) => ratioForTranslation(resistance, z), "border strong");
  const attachment = border((z) => ratioForDepth(resistance, z, -z), "border");
  const beside = besideTooth();
  // The same place on the crown of the tooth beside.
  const other = beside && border((z) => ratioForTranslation(beside.resistance, z + beside.load.height_mm - tooth.load.height_mm),
    "border beside");
  const name = (list, text, near, className = "") => {
    if (list.length > 1) labels.write(text, `border-name ${className}`, placesAlong(list, near));
  };
  name(translation, say("translation"), 0.55, "strong");
  if (other) name(other, tell("translation, {}", beside.family === tooth.family ? beside.bone : beside.title), 0.5, "beside");
  name(apex, say("rotation at the apex"), 0.5);
  name(attachment, say("rotation at the attachment"), 0.65);
  const slope = attachment.length > 1 ? Math.atan2(...minus(attachment[attachment.length - 1], attachment[0]).reverse()) : 0;
  const region = (text, from, to) => {
    const places = [];
    for (const angle of [0, slope]) for (const share of [0.84, 0.1, 0.05, 0.15, 0.74, 0.2, 0.64, 0.3, 0.5]) {
      const z = map.heights[0] + share * (map.heights[1] - map.heights[0]);
      for (const part of [0.5, 0.45, 0.55, 0.4, 0.6, 0.35, 0.65, 0.25, 0.75]) {
        const [a, b] = [from(z), to(z)].map((ratio) => clamp(map.x(ratio), left, right));
        places.push({ x: a + part * (b - a), y: map.y(z), angle, anchor: "middle" });
      }
    }
    labels.write(text, "region", places);
  };
  region(say("uncontrolled tipping"), () => map.ratios[0], (z) => ratioForDepth(resistance, z, tooth.apexDepth));
  region(say("crown tipping reversed"), (z) => ratioForDepth(resistance, z, -z), () => map.ratios[1]);
  for (const tick of roundTicks(...map.ratios, 7)) {
    const x = n2(map.x(tick));
    draw(svg, "path", { class: "tick", d: `M${x} ${floor}V${floor + 5}` });
    draw(svg, "text", { class: "tick-text", x, y: floor + 20, "text-anchor": "middle" }, short(tick));
  }
  for (const tick of roundTicks(...map.heights, 6)) {
    const y = n2(map.y(tick));
    draw(svg, "path", { class: "tick", d: `M${left - 5} ${y}H${left}` });
    draw(svg, "text", { class: "tick-text", x: left - 9, y: y + 5, "text-anchor": "end" }, short(tick));
  }
  draw(svg, "text", { class: "axis-name", x: 0.5 * (left + right), y: floor + 42, "text-anchor": "middle" },
    say("Root torque for each newton of push (mm)"));
  draw(svg, "text", { class: "axis-name", transform: `translate(15 ${0.5 * (top + floor)}) rotate(-90)`, "text-anchor": "middle" },
    say("Attachment above the crest (mm)"));
  draw(svg, "rect", { class: "frame", x: left, y: top, width: right - left, height: floor - top });
  colourBar(right + 14, top + 22, floor - top - 44);
  map.catcher = draw(svg, "rect", { class: "catcher", x: left, y: top, width: right - left, height: floor - top });
  map.mark = draw(svg, "circle", {
    class: "mark", r: 9, tabindex: 0, role: "slider", "aria-label": say("Attachment height and torque, on the map"),
  });
  const move = ([x, y]) => {
    const ratio = clamp(map.ratios[0] + ((x - left) / (right - left)) * (map.ratios[1] - map.ratios[0]), ...map.ratios);
    const z = clamp(map.heights[0] + ((floor - y) / (floor - top)) * (map.heights[1] - map.heights[0]), ...map.heights);
    const push = state.push || 1;
    change({ push, torque: clampTorque(ratio * push), lift: clampLift(z - tooth.load.height_mm) });
  };
  draggable(map.catcher, svg, move);
  draggable(map.mark, svg, move);
  steerable(map.mark, (right, up) => change({
    torque: clampTorque(state.torque + 0.1 * right), lift: clampLift(state.lift + 0.05 * up),
  }));
}

/** Steps of colour with their values. */
function colourBar(x, top, height) {
  const { svg } = map;
  const y = (v) => top + (height * (TIP_END - v)) / (2 * TIP_END);
  for (let v = -TIP_END; v < TIP_END; v += 1) {
    draw(svg, "rect", { x, y: n2(y(v + 1)), width: 14, height: n2(y(v) - y(v + 1) + 0.4), fill: colourOf("tip", (v + 0.5) / TIP_END) });
  }
  for (let v = -TIP_END; v <= TIP_END; v += 4) {
    draw(svg, "text", { class: "tick-text", x: x + 19, y: n2(y(v) + 5) }, fixed(v, 0));
  }
  draw(svg, "text", { class: "tick-text", x, y: top - 9 }, "\u00b0/mm");
}

onChange(({ main }) => {
  const shown = main.ratio !== null;
  set(map.mark, {
    visibility: shown ? "visible" : "hidden",
    cx: shown ? n2(clamp(map.x(main.ratio), MAP.left, MAP.width - MAP.right)) : 0,
    cy: n2(clamp(map.y(main.load.height), MAP.top, MAP.height - MAP.bottom)),
    "aria-valuemin": map.heights[0], "aria-valuemax": map.heights[1], "aria-valuenow": main.load.height,
    "aria-valuetext": shown
      ? tell("{}, {} mm of torque for each newton: {}", heightOf(main.load.height), fixed(main.ratio, 2), say(main.movement))
      : `${heightOf(main.load.height)}: ${say("no push")}`,
  });
});

