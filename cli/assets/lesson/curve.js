// The curve of the centre of rotation against the ratio of torque to push. The scale of depth is true along the tooth
// and closes in on infinity above and below it, so that the curve passes through infinity on the sheet.

/** On a narrow screen a sheet has fewer units, so that its letters stay as large. */
const NARROW = window.matchMedia("(max-width: 560px)");
const CURVE = { get width() { return NARROW.matches ? 400 : 560; }, height: 440, left: 62, top: 14, right: 14, bottom: 50 };

const curve = {
  svg: draw(document.getElementById("curve"), "svg", {
    role: "group", "aria-label": say("Curve of the centre of rotation against torque for each newton of push"),
  }),
};

/** The ratio that gives a tip for each millimetre at the load of `rad` radians. */
const ratioForTip = (resistance, height, rad) => {
  const lever = ratioForTranslation(resistance, height);
  return lever - (rad * resistance.sigmaSquared) / (1 - rad * lever);
};

/** Kinds of movement along the ratio at a height, from left to right, with their borders. */
function columnsOf(tooth, height, low, high) {
  const tolerance = LESSON.translation_tolerance_deg_per_mm / DEGREES;
  const borders = [
    ratioForDepth(tooth.resistance, height, tooth.apexDepth),
    ratioForTip(tooth.resistance, height, tolerance),
    ratioForTip(tooth.resistance, height, -tolerance),
    ratioForDepth(tooth.resistance, height, -height),
  ].map((v) => clamp(v, low, high));
  const ends = [low, ...borders, high];
  return MOVEMENTS.map((kind, k) => ({ kind, from: ends[k], to: ends[k + 1] })).filter((c) => c.to > c.from);
}

/** Depth to the sheet: true from `-a` to `b`, then closing in on infinity within `w` more. */
function depthScale(tooth) {
  const [a, b] = [tooth.cuspHeight + 1.5, tooth.apexDepth + 1.5];
  const w = 0.3 * (a + b);
  const squeezed = (d) => {
    if (d > b) return Number.isFinite(d) ? b + (w * (d - b)) / (w + d - b) : b + w;
    if (d < -a) return Number.isFinite(d) ? -a - (w * (-a - d)) / (w - a - d) : -a - w;
    return d;
  };
  const inner = CURVE.height - CURVE.top - CURVE.bottom;
  return (d) => CURVE.top + (inner * (squeezed(d) + a + w)) / (a + b + 2 * w);
}

/** Draws what changes with the tooth only. */
function buildCurve() {
  const tooth = mainTooth();
  const { svg } = curve;
  svg.replaceChildren();
  curve.named = "";
  svg.setAttribute("viewBox", `0 0 ${CURVE.width} ${CURVE.height}`);
  const [left, right] = [CURVE.left, CURVE.width - CURVE.right];
  const floor = CURVE.height - CURVE.bottom;
  [curve.low, curve.high] = tooth.ranges.moment_to_force_mm;
  curve.x = (ratio) => left + ((right - left) * (ratio - curve.low)) / (curve.high - curve.low);
  curve.ratioAt = (x) => curve.low + ((x - left) / (right - left)) * (curve.high - curve.low);
  curve.y = depthScale(tooth);
  const clip = draw(draw(svg, "defs"), "clipPath", { id: "curve-clip" });
  draw(clip, "rect", { x: left, y: CURVE.top - 1, width: right - left, height: floor - CURVE.top + 2 });
  curve.columns = draw(svg, "g");
  curve.names = draw(svg, "g");
  const levels = [[-tooth.cuspHeight, tooth.words.top, "soft-ink"], [0, say("alveolar crest"), ""],
    [tooth.resistance.depth, say("centre of resistance"), "resistance-ink"], [tooth.apexDepth, say("apex"), "soft-ink"]];
  for (const [depth, , ink] of levels) {
    draw(svg, "path", { class: `level ${ink}`, d: `M${left} ${n2(curve.y(depth))}H${right}` });
  }
  curve.levels = levels;
  for (const depth of [-Infinity, -30, -5, 0, 5, 10, 30, Infinity]) {
    const y = n2(curve.y(depth));
    draw(svg, "path", { class: "tick", d: `M${left - 5} ${y}H${left}` });
    const text = Number.isFinite(depth) ? String(Math.abs(depth)) : "\u221e";
    draw(svg, "text", { class: "tick-text", x: left - 9, y: y + 5, "text-anchor": "end" }, text);
  }
  const side = (text, high, low) => {
    const y = 0.5 * (curve.y(high) + curve.y(low));
    draw(svg, "text", { class: "axis-name", transform: `translate(15 ${n2(y)}) rotate(-90)`, "text-anchor": "middle" }, text);
  };
  side(say("mm above the crest"), -Infinity, 0);
  side(say("mm below the crest"), 0, Infinity);
  for (const tick of roundTicks(curve.low, curve.high, 8)) {
    const x = n2(curve.x(tick));
    draw(svg, "path", { class: "tick", d: `M${x} ${floor}V${floor + 5}` });
    draw(svg, "text", { class: "tick-text", x, y: floor + 20, "text-anchor": "middle" }, short(tick));
  }
  draw(svg, "text", { class: "axis-name", x: 0.5 * (left + right), y: floor + 42, "text-anchor": "middle" },
    say("Root torque for each newton of push (mm)"));
  draw(svg, "rect", { class: "frame", x: left, y: CURVE.top, width: right - left, height: floor - CURVE.top });
  const inside = draw(svg, "g", { "clip-path": "url(#curve-clip)" });
  curve.asymptote = draw(inside, "path", { class: "asymptote" });
  curve.besidePath = draw(inside, "path", { class: "curve-line beside" });
  curve.path = draw(inside, "path", { class: "curve-line" });
  curve.catcher = draw(svg, "rect", { class: "catcher", x: left, y: CURVE.top, width: right - left, height: floor - CURVE.top });
  curve.besideMark = draw(svg, "circle", { class: "mark beside", r: 6 });
  curve.mark = draw(svg, "circle", {
    class: "mark", r: 9, tabindex: 0, role: "slider", "aria-label": say("Root torque for each newton of push, on the curve"),
  });
  const move = ([x]) => {
    if (state.push > 0) change({ torque: clampTorque(clamp(curve.ratioAt(x), curve.low, curve.high) * state.push) });
  };
  draggable(curve.catcher, svg, move);
  draggable(curve.mark, svg, move);
  steerable(curve.mark, (right, up) => change({ torque: clampTorque(state.torque + 0.1 * (right + up)) }));
}

/** Both branches of a tooth's curve at a height, points on the sheet. */
function branchesOf(resistance, height) {
  const lever = ratioForTranslation(resistance, height);
  const branch = (from, to) => Array.from({ length: 161 }, (_, k) => {
    const below = Math.tan(from + ((to - from) * k) / 160);
    return [curve.x(lever - resistance.sigmaSquared / below), curve.y(resistance.depth + below)];
  });
  const half = Math.PI / 2;
  return [branch(0.01, half - 1e-4), branch(-half + 1e-4, -0.01)];
}

/** Names of the levels and of the kinds of movement, clear of the curves and of each other. */
function nameCurve(columns, branches) {
  const [left, right, top, floor] = [CURVE.left, CURVE.width - CURVE.right, CURVE.top, CURVE.height - CURVE.bottom];
  curve.names.replaceChildren();
  const labels = new Labels(curve.names, [left + 1, top + 1], [right - 1, floor - 1]);
  const sheet = ([x, y]) => x >= left - 1 && x <= right + 1 && y >= top - 1 && y <= floor + 1;
  for (const list of branches) labels.avoid(list.filter(sheet));
  for (const [depth] of curve.levels) labels.avoid([[left, curve.y(depth)], [right, curve.y(depth)]]);
  for (const [depth, name, ink] of curve.levels) {
    const places = [0, 0.15, 0.3, 0.45, 0.58, 0.7, 1].flatMap((share) => [-6, 15].map((dy) => ({
      x: left + 6 + share * (right - left - 12), y: curve.y(depth) + dy, anchor: share === 1 ? "end" : "start",
    })));
    labels.write(name, `label ${ink}`, places);
  }
  // Names of the kinds stand upright in narrow columns and may cross a level.
  labels.lines = labels.lines.filter((segment) => segment[0][1] !== segment[1][1]);
  for (const { kind, from, to } of columns.filter((column) => column.kind !== "translation")) {
    const [x, width] = [curve.x(from), curve.x(to) - curve.x(from)];
    const middle = x + width / 2;
    const level = [floor - 10, top + 18, floor - 30, top + 38].map((y) => ({ x: middle, y, anchor: "middle" }));
    const upright = [0.5, 0.3, 0.7, 0.15, 0.85].flatMap((share) =>
      [[floor - 8, "start"], [top + 8, "end"], [floor - 60, "start"], [top + 60, "end"]]
        .map(([y, anchor]) => ({ x: x + share * width + 4, y, angle: -Math.PI / 2, anchor })));
    if (width > 14) labels.write(say(kind), "kind-name", width > 150 ? [...level, ...upright] : upright);
  }
}

function placeMark(mark, result) {
  const shown = result.ratio !== null;
  mark.setAttribute("visibility", shown ? "visible" : "hidden");
  if (!shown) return;
  const depth = result.rotationDepth === null ? Infinity : result.rotationDepth;
  set(mark, { cx: n2(clamp(curve.x(result.ratio), CURVE.left, CURVE.width - CURVE.right)), cy: n2(curve.y(depth)) });
}

function showColumns(tooth, height, columns) {
  const floor = CURVE.height - CURVE.bottom;
  curve.columns.replaceChildren();
  for (const { kind, from, to } of columns) {
    const [x, width] = [curve.x(from), curve.x(to) - curve.x(from)];
    draw(curve.columns, "rect", {
      class: `kind ${kind.replaceAll(" ", "-")}`, x: n2(x), y: CURVE.top, width: n2(width), height: floor - CURVE.top,
    });
  }
  const x = n2(curve.x(ratioForTranslation(tooth.resistance, height)));
  curve.asymptote.setAttribute("d", `M${x} ${CURVE.top}V${floor}`);
}

onChange((results) => {
  const { main, beside } = results;
  const columns = columnsOf(mainTooth(), main.load.height, curve.low, curve.high);
  showColumns(mainTooth(), main.load.height, columns);
  const branches = branchesOf(mainTooth().resistance, main.load.height);
  const others = beside ? branchesOf(besideTooth().resistance, beside.load.height) : [];
  curve.path.setAttribute("d", branches.map(line).join(""));
  curve.besidePath.setAttribute("d", others.map(line).join(""));
  // Names move with the height only.
  const named = JSON.stringify([state.main, state.beside, main.load.height, NARROW.matches]);
  if (named !== curve.named) nameCurve(columns, [...branches, ...others]);
  curve.named = named;
  placeMark(curve.mark, main);
  set(curve.mark, {
    "aria-valuemin": curve.low, "aria-valuemax": curve.high, "aria-valuenow": main.ratio ?? 0,
    "aria-valuetext": main.ratio === null ? say("no push")
      : tell("{} mm: {}, centre of rotation {}", fixed(main.ratio, 2), say(main.movement), placeOf(main.rotationDepth)),
  });
  if (beside) placeMark(curve.besideMark, beside);
  else curve.besideMark.setAttribute("visibility", "hidden");
});

