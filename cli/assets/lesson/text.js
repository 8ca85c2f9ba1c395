// Numbers, places and texts in words. Every text that a reader sees goes through `say` or `tell`, which put it into the
// language of the page.

/** A text in the language of the page. */
const say = (english) => LESSON.words[english] ?? english;

/** A text with its gaps {} filled in order, or by number ({0}) where the language has another order. */
const tell = (english, ...gaps) => gaps.reduce((text, gap, k) => {
  const numbered = `{${k}}`;
  return text.includes(numbered) ? text.replaceAll(numbered, gap) : text.replace("{}", () => gap);
}, say(english));

/** Marks a text that is said later. */
const noted = (english) => english;

const MINUS = "−";
const typeset = (text) => text.replace("-", MINUS).replace(".", LESSON.decimal_mark);

/** A number with a fixed count of decimals, a true minus sign and no negative zero. */
function fixed(value, decimals) {
  const text = value.toFixed(decimals);
  return typeset(Number(text) === 0 ? text.replace("-", "") : text);
}

/** A number as short as it is exact to a millionth. */
const short = (value) => typeset(String(Math.round(value * 1e6) / 1e6));

/** A height above the crest, the same way everywhere. */
const heightOf = (mm) => tell("{} mm above the crest", fixed(mm, 2));

/** A depth below the crest in words; null is infinity. */
function placeOf(depth) {
  if (depth === null) return say("at infinity");
  if (Math.abs(depth) >= 1000) return say(depth > 0 ? noted("far below the apex") : noted("far above the crown"));
  return depth < 0 ? heightOf(-depth) : tell("{} mm below the crest", fixed(depth, 2));
}

const perMm = (value) => (Number.isFinite(value) ? `${fixed(value, 2)} °/mm` : say("does not travel"));
const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** What a kind of movement means, for readers who know anatomy. */
const MEANINGS = {
  "uncontrolled tipping": noted("The crown goes with the push, the apex goes the other way."),
  "controlled tipping": noted("The crown goes with the push; the apex stays or follows."),
  translation: noted("Crown and root go together: the tooth hardly tips."),
  "root movement": noted("The root goes further than the crown."),
  "crown tipping reversed": noted("The torque overpowers the push: the crown goes back."),
};

/** What the picture can show: a name and what it means. */
const VERDICTS = {
  ...Object.fromEntries(Object.entries(MEANINGS).map(([kind, text]) => [kind, [kind, text]])),
  still: [noted("no load"), noted("Push or turn the tooth with the controls.")],
  couple: [noted("a couple alone"), noted("A couple alone turns the tooth about its centre of resistance.")],
};
