// Controls and numbers: what is turned goes to the state, what follows from it is written out.

const byId = (id) => document.getElementById(id);

/** Writes a number with its unit; its full value stays with it for whoever copies or checks it. */
function setNumber(id, value, text) {
  const output = byId(id);
  output.textContent = text;
  output.value = text;
  output.dataset.value = value === null || !Number.isFinite(value) ? "" : String(value);
}

const ENLARGEMENTS = [1, 2, 5, 10, 20, 50, 100, 200];

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
  const { inward, outward } = tooth.words;
  byId("to-outward").textContent = outward;
  byId("to-inward").textContent = inward;
  byId("top-name").textContent = `Tip for each mm at the ${tooth.words.top}`;
  byId("from-buccal").textContent = `from ${outward}`;
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
  const bodies = model.rigid ? "Rigid tooth and bone around an elastic ligament" : "Elastic tooth, ligament and bone";
  const percent = (value) => (value === null ? "unknown" : `${fixed(Math.max(value, 0.05), 1)}%`);
  byId("model").textContent = `${bodies}; ${model.tetrahedra} curved tetrahedra, ${model.unknowns} unknowns; ligament ` +
    `${short(model.ligament_thickness_mm)} mm thick, ${short(model.ligament_modulus_mpa)} MPa, Poisson ratio ` +
    `${short(model.ligament_poisson_ratio)}. Error of the mesh, estimated: centre of resistance ${percent(model.error_percent[0])}, ` +
    `tip ${percent(model.error_percent[1])}.${model.rigid ? "" : ` The tooth itself bends by at most ${fixed(model.bending_um_per_n, 1)} ` +
    "\u00b5m for each newton; the picture moves it as a rigid body."}`;
}

/** Options of the choices of teeth. */
function buildChoices() {
  const option = (value, text) => element("option", { value, textContent: text });
  byId("tooth").replaceChildren(...TEETH.map((t, k) => option(String(k), t.title)));
  byId("beside").replaceChildren(option("", "none"), ...TEETH.map((t, k) => option(String(k), t.title)));
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
  byId("play").textContent = "Let the torque grow";
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
  byId("play").textContent = "Stop";
  byId("play").setAttribute("aria-pressed", "true");
  const next = (k) => {
    change({ push, torque: clampTorque(stops[k]) });
    if (k + 1 < stops.length) playing = setTimeout(next, calm ? 2500 : 33, k + 1);
    else stopPlaying();
  };
  next(0);
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
  byId("torque-name").textContent = `Root torque to ${side}`;
  setNumber("height-value", load.height, `${fixed(load.height, 2)} mm above the crest`);
  setNumber("push-value", load.force, `${fixed(state.push, 2)} N`);
  setNumber("torque-value", load.torque, `${fixed(state.torque, 2)} N\u00b7mm`);
  setNumber("mesial-value", state.mesial, `${fixed(state.mesial, 2)} N`);
  setNumber("enlargement-value", state.exaggeration, state.exaggeration === 1 ? "to scale" : `${state.exaggeration} times`);
  const ratio = main.ratio === null ? "no push" : `${fixed(main.ratio, 2)} mm`;
  setNumber("ratio-value", main.ratio, ratio);
  const still = load.force === 0 && load.torque === 0;
  const kind = still ? "no load" : state.push === 0 ? "a couple alone" : main.movement;
  byId("movement").textContent = upper(kind);
  byId("movement").dataset.value = main.movement;
  byId("meaning").textContent = still ? "Push or turn the tooth with the controls."
    : state.push === 0 ? "A couple alone turns the tooth about its centre of resistance." : MEANINGS[main.movement];
  const depth = main.rotationDepth;
  setNumber("rotation", depth, still ? "\u2013" : placeOf(depth));
  setNumber("resistance", tooth.resistance.depth, placeOf(tooth.resistance.depth));
  setNumber("tip", main.tipDeg, `${fixed(main.tipDeg, 4)}\u00b0`);
  setNumber("travel", main.travel, `${fixed(1000 * main.travel, 2)} \u00b5m`);
  setNumber("tip-attachment", main.tipPerMm, still ? "\u2013" : perMm(main.tipPerMm));
  setNumber("tip-top", main.tipPerMmTop, still ? "\u2013" : perMm(main.tipPerMmTop));
  setNumber("tip-crest", main.tipPerMmCrest, still ? "\u2013" : perMm(main.tipPerMmCrest));
  setNumber("compression", main.compression, `${fixed(Math.max(0, main.compression), 2)} kPa`);
  setNumber("tension", main.tension, `${fixed(Math.max(0, -main.tension), 2)} kPa`);
  // Readers of the screen hear the summary when a control has come to rest.
  clearTimeout(spoken);
  spoken = setTimeout(() => {
    byId("summary").textContent = `${upper(kind)}. Centre of rotation ${placeOf(depth)}. Torque for each newton: ${ratio}. ` +
      `Tip for each millimetre at the attachment: ${perMm(main.tipPerMm)}.`;
  }, 400);
});

/** The legend of the pressure under the section. */
function buildLegend() {
  const bar = byId("pressure-bar");
  bar.replaceChildren();
  for (let k = 0; k < 41; k += 1) {
    bar.append(element("i", { style: `background:${colourOf("pressure", k / 20 - 1)}` }));
  }
  byId("pressure-low").textContent = `${fixed(-PRESSURE_END, 0)} kPa, tension`;
  byId("pressure-high").textContent = `compression, ${fixed(PRESSURE_END, 0)} kPa`;
}

readScales();
awaitSpace();
buildChoices();
rebuild();
buildLegend();
listen();
// A plain push should be seen well, and no tooth leave its picture.
const usualTravel = Math.max(...[mainTooth(), besideTooth()].filter(Boolean)
  .map((tooth) => Math.abs(resultOn(tooth, { height: tooth.load.height_mm, force: 1, torque: 0 }).travel)));
state.exaggeration = ENLARGEMENTS.filter((e) => e * usualTravel <= 2.6).pop() ?? 1;
update();
// For tests and the curious: times of updates in ms, and how many triangles the view in space has.
window.lessonTimes = () => [...updateTimes];
window.lessonTriangles = () => ["root", "crown", "socket"].reduce((sum, name) => sum + mainTooth().solid[name].length / 3, 0);
window.lessonReadyMs = performance.now();
document.documentElement.dataset.ready = "true";
