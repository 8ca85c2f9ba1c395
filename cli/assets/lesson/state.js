// The state of the lesson, and who listens to it. Controls and marks change it here only; everything that is shown is
// made from it.

const state = {
  /** The tooth that controls and numbers speak of, and the one beside it (null: none). */
  main: 0,
  beside: TEETH.length > 1 ? 1 : null,
  /** How far the attachment stands above its usual place on the crown, mm. */
  lift: 0,
  /** Push, N, and root torque, N mm, both positive in the direction of the push. */
  push: Math.abs(TEETH[0].load.force_n) || 1,
  torque: TEETH[0].load.torque_nmm * (TEETH[0].load.force_n < 0 ? -1 : 1),
  /** 1: to buccal, -1: to lingual. */
  sense: TEETH[0].load.force_n < 0 ? -1 : 1,
  /** Push to mesial at the attachment, N: for the view in space only. */
  mesial: 0,
  /** How many times the movement is enlarged, and the place that travels a millimetre instead (null: none). */
  exaggeration: 20,
  forOneMm: null,
};

const mainTooth = () => TEETH[state.main];
const besideTooth = () => (state.beside === null ? null : TEETH[state.beside]);

/** The load on a tooth: the same place on its crown, the same push and torque. */
const loadOn = (tooth) => ({
  height: tooth.load.height_mm + state.lift,
  force: state.sense * state.push,
  torque: state.sense * state.torque,
});

/** Weights of the unit solutions under that load, with the mesial push if it is asked for. */
function weightsOn(tooth, load = loadOn(tooth), mesial = 0) {
  const [x, y] = tooth.landmarks.attachment_mm;
  return weightsOf(tooth.compliance.point_mm, [x, y, load.height], [load.force, mesial, 0], [0, -load.torque, 0]);
}

/** Everything that follows from the load on a tooth. */
function resultOn(tooth, load = loadOn(tooth)) {
  const motion = planarMotion(tooth.resistance, load);
  const pressures = rootPressures(tooth, weightsOn(tooth, load), tooth.scratch ??= new Float64Array(tooth.solid.rootCount));
  let [most, least] = [-Infinity, Infinity];
  for (const p of pressures) {
    if (p > most) most = p;
    if (p < least) least = p;
  }
  return {
    load,
    motion,
    movement: movementOf(tooth.resistance, load, tooth.apexDepth, LESSON.translation_tolerance_deg_per_mm),
    ratio: load.force === 0 ? null : load.torque / load.force,
    tipDeg: motion.tip * DEGREES,
    travel: motion.travelAt(load.height),
    /** What the torque leaves of the travel of the same push without torque; null without a push. */
    travelLeft: load.force === 0 ? null
      : motion.travelAt(load.height) / planarMotion(tooth.resistance, { ...load, torque: 0 }).travelAt(load.height),
    tipPerMm: motion.tipPerMm(load.height),
    tipPerMmTop: motion.tipPerMm(tooth.cuspHeight),
    tipPerMmCrest: motion.tipPerMm(0),
    rotationDepth: motion.rotationDepth,
    compression: most,
    tension: least,
  };
}

/** Places of the tooth that can travel a millimetre in the picture: their heights. */
const PLACES = {
  attachment: (tooth, load) => load.height,
  top: (tooth) => tooth.cuspHeight,
  crest: () => 0,
};
/** Largest angle that a picture turns a tooth by. */
const LARGEST_TURN = Math.PI / 4;

/** How many times the movement of a tooth is enlarged in its picture. */
function enlargementOf(tooth, { load, motion }) {
  if (state.forOneMm === null) return state.exaggeration;
  const travel = Math.abs(motion.travelAt(PLACES[state.forOneMm](tooth, load)));
  const most = LARGEST_TURN / Math.abs(motion.tip);
  return Math.min(1 / Math.max(travel, 1e-12), Number.isFinite(most) ? most : 1);
}

/** Largest shift of a tooth in its picture over its height. */
function shownShare(tooth, result) {
  const shifts = [tooth.cuspHeight, -tooth.apexDepth].map((z) => Math.abs(result.motion.travelAt(z)));
  return (enlargementOf(tooth, result) * Math.max(...shifts)) / (tooth.cuspHeight + tooth.apexDepth);
}

const listeners = [];
/** Calls `show` after every change, once a frame. */
const onChange = (show) => listeners.push(show);

let asked = false;
/** Times that updates took, ms, the last ones; for the curious and for tests. */
const updateTimes = [];

function update() {
  asked = false;
  const start = performance.now();
  const results = { main: resultOn(mainTooth()), beside: besideTooth() && resultOn(besideTooth()) };
  for (const show of listeners) show(results);
  updateTimes.push(performance.now() - start);
  if (updateTimes.length > 200) updateTimes.shift();
}

/** Changes the state; the page follows before the next frame. */
function change(part) {
  Object.assign(state, part);
  if (!asked) {
    asked = true;
    requestAnimationFrame(update);
  }
}

