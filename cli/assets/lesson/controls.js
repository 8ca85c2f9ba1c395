// Controls and numbers: what is turned goes to the state, what follows from it is written out.

const byId = (id) => document.getElementById(id);

/** Writes a number with its unit; its full value stays with it for whoever copies or checks it. */
function setNumber(id, value, text) {
  const output = byId(id);
  output.textContent = text;
  output.value = text;
  output.dataset.value = value === null || !Number.isFinite(value) ? "" : String(value);
}

const ENLARGEMENTS = [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200];
/** Share of the tooth's height that the largest shift under a plain push takes at first. */
const FIRST_SHARE = 0.12;

/** Keeps the torque within its control. */
const clampTorque = (torque) => clamp(Math.round(torque * 1e6) / 1e6, Number(byId("torque").min), Number(byId("torque").max));

/** Names and ranges of the controls for the main tooth. */
function buildControls() {
  const tooth = mainTooth();
  const [low, high] = tooth.ranges.height_mm;
  const usual = tooth.load.height_mm;
  const step = 0.05;
  // The usual height is one of the steps.
  const steps = [Math.floor((usual - low) / step + 1e-9), Math.floor((high - usual) / step + 1e-9)];
  Object.assign(byId("height"), { min: usual - steps[0] * step, max: usual + steps[1] * step, step });
  const end = Math.ceil(2 * tooth.ranges.moment_to_force_mm[1]);
  Object.assign(byId("torque"), { min: -Math.round(end / 4), max: end, step: 0.05 });
  byId("enlargement").max = ENLARGEMENTS.length - 1;
  const { inward, outward, top } = tooth.words;
  byId("to-outward").textContent = outward;
  byId("to-inward").textContent = inward;
  byId("top-name").textContent = tell("Tip for each mm at the {}", top);
  byId("from-buccal").textContent = tell("from {}", outward);
  byId("torque-name").textContent = tell("Root torque to {}", state.sense > 0 ? outward : inward);
  const drawn = [["", say("enlarged")], ["attachment", say("1 mm at the attachment")], ["top", tell("1 mm at the {}", top)],
    ["crest", say("1 mm at the crest")]];
  byId("drawn").replaceChildren(...drawn.map(([value, text]) => element("option", { value, textContent: text })));
}

/** Takes another main tooth, another one beside it, or none. */
function choose(main, beside) {
  const other = beside === main ? null : beside;
  if (main === state.main && other === state.beside) return;
  Object.assign(state, { main, beside: other });
  rebuild();
  change({ lift: clampLift(state.lift), torque: clampTorque(state.torque) });
}

function rebuild() {
  buildControls();
  buildSections();
  buildCurve();
  buildMap();
  buildQuestions();
  byId("tooth").value = String(state.main);
  byId("beside").value = state.beside === null ? "" : String(state.beside);
  byId("command").textContent = mainTooth().command;
  showModel(mainTooth());
}

function showModel(tooth) {
  const { model } = tooth;
  const percent = (value) => (value === null ? say("unknown") : `${fixed(Math.max(value, 0.05), 1)} %`);
  const parts = [
    tell("{}; {} curved tetrahedra, {} unknowns; ligament {} mm thick, {} MPa, Poisson ratio {}.",
      say(model.rigid ? noted("Rigid tooth and bone around an elastic ligament") : noted("Elastic tooth, ligament and bone")),
      String(model.tetrahedra), String(model.unknowns), short(model.ligament_thickness_mm), short(model.ligament_modulus_mpa),
      short(model.ligament_poisson_ratio)),
    tell("Error of the mesh, estimated: centre of resistance {}, tip {}.", ...model.error_percent.map(percent)),
  ];
  if (!model.rigid) {
    parts.push(tell("The tooth itself bends by at most {} µm for each newton; the picture moves it as a rigid body.", fixed(model.bending_um_per_n, 1)));
  }
  if (model.strain_beyond !== null) {
    parts.push(tell("The case's own load strains the ligament by {}, beyond {}: positions hold, travel and pressure are extrapolated.",
      ...model.strain_beyond.map((strain) => fixed(strain, 2))));
  }
  byId("model").textContent = parts.join(" ");
}

/** Options of the choices of teeth. */
function buildChoices() {
  const option = (value, text) => element("option", { value, textContent: text });
  byId("tooth").replaceChildren(...TEETH.map((t, k) => option(String(k), t.title)));
  byId("beside").replaceChildren(option("", say("none")), ...TEETH.map((t, k) => option(String(k), t.title)));
  byId("choice").hidden = TEETH.length < 2;
  byId("tooth").addEventListener("change", () => choose(Number(byId("tooth").value), state.beside));
  byId("beside").addEventListener("change", () =>
    choose(state.main, byId("beside").value === "" ? null : Number(byId("beside").value)));
}

function listen() {
  const number = (id) => Number(byId(id).value);
  const turned = (id, part) => byId(id).addEventListener("input", () => change(part(number(id))));
  turned("height", (v) => ({ lift: v - mainTooth().load.height_mm }));
  turned("push", (v) => ({ push: v }));
  turned("torque", (v) => ({ torque: v }));
  turned("mesial", (v) => ({ mesial: v }));
  turned("enlargement", (v) => ({ exaggeration: ENLARGEMENTS[v] }));
  byId("drawn").addEventListener("change", () => change({ forOneMm: byId("drawn").value || null }));
  byId("outward").addEventListener("change", () => change({ sense: 1 }));
  byId("inward").addEventListener("change", () => change({ sense: -1 }));
  byId("reset").addEventListener("click", () => {
    stopPlaying();
    change({ lift: 0, push: 1, torque: 0, sense: 1, mesial: 0 });
  });
  byId("play").addEventListener("click", () => (playing ? stopPlaying() : play()));
  NARROW.addEventListener("change", () => { rebuild(); change({}); });
  DARK.addEventListener("change", () => repaint());
  const onPaper = (paper) => {
    printing = paper;
    document.documentElement.toggleAttribute("data-paper", paper);
    repaint(paper);
  };
  window.addEventListener("beforeprint", () => { onPaper(true); printSpace(); });
  window.addEventListener("afterprint", () => onPaper(false));
}

/** Colours of the other ground. */
function repaint(now = false) {
  readScales();
  buildLegend();
  buildSections();
  buildMap();
  if (now) update();
  else change({});
}

let playing = 0;

function stopPlaying() {
  clearTimeout(playing);
  playing = 0;
  byId("play").textContent = say("Let the torque grow");
  byId("play").setAttribute("aria-pressed", "false");
}

/** Lets the torque grow from nothing; for readers who want no motion in a few steps, one for each kind of movement. */
function play() {
  const push = state.push || 1;
  const tooth = mainTooth();
  const end = clampTorque(tooth.ranges.moment_to_force_mm[1] * push);
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const columns = columnsOf(tooth, loadOn(tooth).height, 0, end / push);
  const stops = calm ? columns.map((c) => 0.5 * (c.from + c.to) * push)
    : Array.from({ length: 361 }, (_, k) => (end * k) / 360);
  byId("play").textContent = say("Stop");
  byId("play").setAttribute("aria-pressed", "true");
  const next = (k) => {
    change({ push, torque: clampTorque(stops[k]) });
    if (k + 1 < stops.length) playing = setTimeout(next, calm ? 2500 : 33, k + 1);
    else stopPlaying();
  };
  next(0);
}

/** How the movement is drawn: how many times enlarged, and what share of the tooth's height its largest shift takes. */
function showEnlargement(tooth, result) {
  const factor = enlargementOf(tooth, result);
  const share = tell("{} % of its height", fixed(100 * shownShare(tooth, result), 0));
  const times = state.forOneMm === null ? short(factor) : fixed(factor, factor < 10 ? 1 : 0);
  const stated = factor === 1 ? say("to scale") : tell("{} times", times);
  setNumber("enlargement-value", factor, `${stated}, ${share}`);
  byId("enlargement").disabled = state.forOneMm !== null;
  byId("drawn").value = state.forOneMm ?? "";
}

/** Room for every verdict, so that what stands below it does not move when the words change. */
function reserveVerdicts() {
  const ghosts = Object.values(VERDICTS).map(([kind, meaning]) => {
    const ghost = element("span", { className: "ghost" }, element("strong", { textContent: upper(say(kind)) }), ` ${say(meaning)}`);
    ghost.setAttribute("aria-hidden", "true");
    return ghost;
  });
  document.querySelector(".verdict").append(...ghosts);
}

let spoken = 0;
onChange(({ main }) => {
  const { load } = main;
  const tooth = mainTooth();
  byId("height").value = String(load.height);
  byId("push").value = String(state.push);
  byId("torque").value = String(state.torque);
  byId("mesial").value = String(state.mesial);
  byId("enlargement").value = String(Math.max(0, ENLARGEMENTS.indexOf(state.exaggeration)));
  byId(state.sense > 0 ? "outward" : "inward").checked = true;
  const side = state.sense > 0 ? tooth.words.outward : tooth.words.inward;
  byId("torque-name").textContent = tell("Root torque to {}", side);
  setNumber("height-value", load.height, heightOf(load.height));
  setNumber("push-value", load.force, `${fixed(state.push, 2)} N`);
  setNumber("torque-value", load.torque, `${fixed(state.torque, 2)} N·mm`);
  setNumber("mesial-value", state.mesial, `${fixed(state.mesial, 2)} N`);
  showEnlargement(tooth, main);
  const ratio = main.ratio === null ? say("no push") : `${fixed(main.ratio, 2)} mm`;
  setNumber("ratio-value", main.ratio, ratio);
  const still = load.force === 0 && load.torque === 0;
  const [kind, meaning] = VERDICTS[still ? "still" : state.push === 0 ? "couple" : main.movement];
  byId("movement").textContent = upper(say(kind));
  byId("movement").dataset.value = main.movement;
  byId("meaning").textContent = say(meaning);
  const depth = main.rotationDepth;
  setNumber("rotation", depth, still ? "–" : placeOf(depth));
  setNumber("resistance", tooth.resistance.depth, placeOf(tooth.resistance.depth));
  setNumber("tip", main.tipDeg, `${fixed(main.tipDeg, 4)}°`);
  setNumber("travel", main.travel, `${fixed(1000 * main.travel, 2)} µm`);
  setNumber("travel-left", main.travelLeft, main.travelLeft === null ? "–" : `${fixed(100 * main.travelLeft, 1)} %`);
  setNumber("tip-attachment", main.tipPerMm, still ? "–" : perMm(main.tipPerMm));
  setNumber("tip-top", main.tipPerMmTop, still ? "–" : perMm(main.tipPerMmTop));
  setNumber("tip-crest", main.tipPerMmCrest, still ? "–" : perMm(main.tipPerMmCrest));
  setNumber("compression", main.compression, `${fixed(Math.max(0, main.compression), 2)} kPa`);
  setNumber("tension", main.tension, `${fixed(Math.max(0, -main.tension), 2)} kPa`);
  // Readers of the screen hear the summary when a control has come to rest.
  clearTimeout(spoken);
  spoken = setTimeout(() => {
    byId("summary").textContent = tell("{}. Centre of rotation {}. Torque for each newton: {}. Tip for each millimetre at the attachment: {}.",
      upper(say(kind)), placeOf(depth), ratio, perMm(main.tipPerMm));
  }, 400);
});

/** The legend of the pressure under the section. */
function buildLegend() {
  const bar = byId("pressure-bar");
  bar.replaceChildren();
  for (let k = 0; k < 41; k += 1) {
    bar.append(element("i", { style: `background:${colourOf("pressure", k / 20 - 1)}` }));
  }
  byId("pressure-low").textContent = tell("{} kPa, tension", fixed(-PRESSURE_END, 0));
  byId("pressure-high").textContent = tell("compression, {} kPa", fixed(PRESSURE_END, 0));
}

readScales();
awaitSpace();
buildChoices();
rebuild();
buildLegend();
listen();
reserveVerdicts();
// A plain push should be seen well, and no tooth leave its picture.
const shareOfOne = Math.max(...[mainTooth(), besideTooth()].filter(Boolean).map((tooth) => {
  const load = { height: tooth.load.height_mm, force: 1, torque: 0 };
  return shownShare(tooth, { load, motion: planarMotion(tooth.resistance, load) }) / state.exaggeration;
}));
state.exaggeration = ENLARGEMENTS.filter((e) => e * shareOfOne <= FIRST_SHARE).pop() ?? 1;
update();
// For tests and the curious: times of updates in ms, and how many triangles the view in space has.
window.lessonTimes = () => [...updateTimes];
window.lessonTriangles = () => ["root", "crown", "socket"].reduce((sum, name) => sum + mainTooth().solid[name].length / 3, 0);
window.lessonReadyMs = performance.now();
document.documentElement.dataset.ready = "true";
