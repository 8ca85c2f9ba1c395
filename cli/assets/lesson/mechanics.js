// Mechanics: from a wrench to the motion, and from the motion to what it is called. Lengths in mm, forces in N, moments
// in N mm, angles in radians; x to buccal, y to mesial, z to occlusal, the origin on the long axis at the crest. Nothing
// here knows of the page.

const DEGREES = 180 / Math.PI;

/** S with S v = r x v. */
const crossMatrix = ([x, y, z]) => [[0, -z, y], [z, 0, -x], [-y, x, 0]];

const cross = ([a, b, c], [x, y, z]) => [b * z - c * y, c * x - a * z, a * y - b * x];
const dot = (a, b) => a.reduce((sum, v, k) => sum + v * b[k], 0);
const minus = (a, b) => a.map((v, k) => v - b[k]);
const plus = (a, b) => a.map((v, k) => v + b[k]);
const times = (a, s) => a.map((v) => v * s);

/** The compliance of the same tooth stated at another point: X C X^T with X = [I, -S(r); 0, I]. */
function complianceAt(compliance, point) {
  const s = crossMatrix(minus(point, compliance.point_mm));
  const x = Array.from({ length: 6 }, (_, i) =>
    Array.from({ length: 6 }, (_, j) => (i === j ? 1 : i < 3 && j >= 3 ? -s[i][j - 3] : 0)));
  const product = (a, b) => a.map((row) => b[0].map((_, j) => row.reduce((sum, v, k) => sum + v * b[k][j], 0)));
  const transposed = (a) => a[0].map((_, j) => a.map((row) => row[j]));
  return { point_mm: point, matrix: product(product(x, compliance.matrix), transposed(x)) };
}

/** Resistance in the bucco-lingual plane: centre of resistance, and what force and moment do there. */
function resistanceOf(compliance) {
  const crest = complianceAt(compliance, [0, 0, 0]).matrix;
  const [alpha, beta, gamma] = [crest[0][0], crest[0][4], crest[4][4]];
  return {
    depth: beta / gamma,
    travelPerForce: alpha - (beta * beta) / gamma,
    tipPerMoment: gamma,
    sigmaSquared: (alpha - (beta * beta) / gamma) / gamma,
  };
}

/** Motion in the plane under a push at a height above the crest with a torque. */
function planarMotion(resistance, { height, force, torque }) {
  const moment = force * (height + resistance.depth) - torque;
  const centreTravel = resistance.travelPerForce * force;
  const tip = resistance.tipPerMoment * moment;
  const travelAt = (z) => centreTravel + tip * (z + resistance.depth);
  const below = centreTravel / tip;
  return {
    tip,
    centreTravel,
    travelAt,
    /** Depth of the centre of rotation below the crest; null at infinity. */
    rotationDepth: Math.abs(below) < 1e6 ? resistance.depth + below : null,
    tipPerMm: (z) => (tip * DEGREES) / travelAt(z),
  };
}

/**
 * The finite motion that a small one in the plane becomes when it goes on `factor` times as far: a turn about the centre of
 * rotation by the enlarged angle, given as the shift of the centre of resistance (to buccal, to occlusal) and the turn.
 */
function carriedOn({ tip, centreTravel }, factor) {
  const [turn, slide] = [factor * tip, factor * centreTravel];
  if (Math.abs(turn) < 1e-9) return { turn, shift: [slide, 0] };
  return { turn, shift: [(slide * Math.sin(turn)) / turn, (slide * (Math.cos(turn) - 1)) / turn] };
}

/** The torque for each newton that makes the tip zero. */
const ratioForTranslation = (resistance, height) => height + resistance.depth;

/** The ratio that puts the centre of rotation at a depth: lever - sigma squared / (depth - centre of resistance). */
const ratioForDepth = (resistance, height, depth) =>
  height + resistance.depth - resistance.sigmaSquared / (depth - resistance.depth);

const MOVEMENTS = [
  "uncontrolled tipping", "controlled tipping", "translation", "root movement", "crown tipping reversed",
];

/** The kind of movement; borders as in the program, from travel at the load, travel at the apex and tip. */
function movementOf(resistance, load, apexDepth, toleranceDegPerMm) {
  const motion = planarMotion(resistance, load);
  const sense = load.force < 0 ? -1 : 1;
  const [tip, atLoad, atApex] = [motion.tip, motion.travelAt(load.height), motion.travelAt(-apexDepth)].map((v) => sense * v);
  if (atLoad <= 0) return MOVEMENTS[4];
  if (Math.abs(tip) <= (toleranceDegPerMm / DEGREES) * atLoad) return MOVEMENTS[2];
  if (tip < 0) return MOVEMENTS[3];
  return atApex < 0 ? MOVEMENTS[0] : MOVEMENTS[1];
}

/** Weights of the six unit solutions: the wrench (force at a point, moment there) stated at their reference point. */
function weightsOf(reference, point, force, moment) {
  return [...force, ...plus(moment, cross(minus(point, reference), force))];
}

/** Sum of the six unit fields, each of `count` values one after the other. */
function superpose(fields, count, weights, into) {
  for (let i = 0; i < count; i += 1) {
    let sum = 0;
    for (let k = 0; k < 6; k += 1) sum += weights[k] * fields[k * count + i];
    into[i] = sum;
  }
  return into;
}

/** The rigid motion in space under weights: translation of the reference point, rotation. */
function spaceMotion(compliance, weights) {
  const v = compliance.matrix.map((row) => dot(row, weights));
  return { point: compliance.point_mm, translation: v.slice(0, 3), rotation: v.slice(3) };
}

/** Displacement of a place. */
const displacementAt = ({ point, translation, rotation }, place) =>
  plus(translation, cross(rotation, minus(place, point)));

/** The screw axis of a motion: base point, unit direction, pitch; null for a translation. */
function screwOf({ point, translation, rotation }) {
  const squared = dot(rotation, rotation);
  const offset = times(cross(rotation, translation), 1 / squared);
  if (!(squared > 0) || !(Math.hypot(...offset) < 1e6)) return null;
  return {
    point: plus(point, offset),
    direction: times(rotation, 1 / Math.sqrt(squared)),
    pitch: dot(rotation, translation) / squared,
  };
}

/** Screw axes of the unit couples about x, y and z: the axes of resistance. */
const axesOfResistance = (compliance) => [3, 4, 5].map((k) =>
  screwOf(spaceMotion(compliance, Array.from({ length: 6 }, (_, j) => (j === k ? 1 : 0)))));

/**
 * The finite motion in space that a small one becomes `factor` times as far along its screw: the rotation less the identity,
 * row by row (O. Rodrigues 1840), and the shift of the origin.
 */
function carriedOnInSpace(motion, factor) {
  const screw = screwOf(motion);
  if (!screw) return { turn: [[0, 0, 0], [0, 0, 0], [0, 0, 0]], shift: times(motion.translation, factor) };
  const { point, direction, pitch } = screw;
  const angle = factor * Math.sqrt(dot(motion.rotation, motion.rotation));
  const s = crossMatrix(direction);
  const turn = s.map((row, i) => row.map((v, j) => {
    const squared = dot(row, s.map((r) => r[j]));
    return Math.sin(angle) * v + (1 - Math.cos(angle)) * squared;
  }));
  const turned = turn.map((row) => dot(row, point));
  return { turn, shift: plus(times(turned, -1), times(direction, pitch * angle)) };
}
