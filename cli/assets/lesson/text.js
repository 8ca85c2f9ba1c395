// Numbers and places in words.

const MINUS = "\u2212";

/** A number with a fixed count of decimals, a true minus sign and no negative zero. */
function fixed(value, decimals) {
  const text = value.toFixed(decimals);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", MINUS);
}

/** A number as short as it is exact to a millionth. */
const short = (value) => String(Math.round(value * 1e6) / 1e6).replace("-", MINUS);

/** A depth below the crest in words; null is infinity. */
function placeOf(depth) {
  if (depth === null) return "at infinity";
  if (Math.abs(depth) >= 1000) return depth > 0 ? "far below the apex" : "far above the crown";
  return depth < 0 ? `${fixed(-depth, 2)} mm above the crest` : `${fixed(depth, 2)} mm below the crest`;
}

const perMm = (value) => (Number.isFinite(value) ? `${fixed(value, 2)} \u00b0/mm` : "does not travel");
const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** What a kind of movement means, for readers who know anatomy. */
const MEANINGS = {
  "uncontrolled tipping": "The crown goes with the push, the apex goes the other way.",
  "controlled tipping": "The crown goes with the push; the apex stays or follows.",
  translation: "Crown and root go together: the tooth hardly tips.",
  "root movement": "The root goes further than the crown.",
  "crown tipping reversed": "The torque overpowers the push: the crown goes back.",
};

