// Guided questions. Every answer is computed here from the tooth at hand; none is written down.

/** The healthy tooth that questions are about, and the same tooth with less bone, if there is one. */
function questionTeeth() {
  const same = TEETH.filter((t) => t.name === mainTooth().name);
  const healthy = same.reduce((a, b) => (b.bone_loss_mm < a.bone_loss_mm ? b : a));
  const lost = same.find((t) => t.bone_loss_mm > healthy.bone_loss_mm) ?? null;
  return { healthy, lost };
}

/** A plain push at the usual place, and the same with a torque for each newton. */
const plainLoad = (tooth, ratio = 0, lift = 0) => ({ height: tooth.load.height_mm + lift, force: 1, torque: ratio });

const kindUnder = (tooth, load) =>
  movementOf(tooth.resistance, load, tooth.apexDepth, LESSON.translation_tolerance_deg_per_mm);

const translationRatio = (tooth) => ratioForTranslation(tooth.resistance, tooth.load.height_mm);

/** Shows teeth and load. */
function present(tooth, beside, { torque = 0, push = 1, lift = 0 }) {
  choose(TEETH.indexOf(tooth), beside ? TEETH.indexOf(beside) : null);
  change({ push, torque, lift });
}

function questionList() {
  const { healthy, lost } = questionTeeth();
  const r = healthy.resistance;
  const plain = planarMotion(r, plainLoad(healthy));
  const list = [];

  const below = plain.rotationDepth - r.depth;
  list.push({
    id: "where",
    text: "Push with 1 N and no torque. About which point does the tooth turn?",
    options: ["about the centre of resistance", "about a point of the root apical of it", "about the apex", "about the crest"],
    correct: Math.abs(below) < 0.05 ? 0 : plain.rotationDepth > healthy.apexDepth - 0.3 ? 2 : below > 0 ? 1 : 3,
    answer: `The push acts ${fixed(translationRatio(healthy), 1)} mm from the centre of resistance and turns the tooth about a ` +
      `point ${fixed(Math.abs(below), 1)} mm ${below > 0 ? "apical" : "occlusal"} of it. The product of both distances, ` +
      `${fixed(r.sigmaSquared, 1)} mm\u00b2, is a constant of this tooth.`,
    begin: () => present(healthy, null, {}),
  });

  const top = healthy.ranges.height_mm[1];
  const [usual, high] = [healthy.load.height_mm, top].map((height) =>
    planarMotion(r, { height, force: 1, torque: 0 }).tipPerMm(height));
  list.push({
    id: "raise",
    text: `Raise the attachment to the ${healthy.words.top}, still without torque. For each millimetre that the attachment ` +
      "travels, does the tooth tip more or less?",
    options: ["more", "less", "the same"],
    correct: Math.abs(high - usual) < 0.02 ? 2 : high > usual ? 0 : 1,
    answer: `From ${fixed(usual, 2)} to ${fixed(high, 2)} \u00b0/mm. The angle for each newton grows, but the point where the ` +
      "millimetre is measured moves up as well and travels further.",
    begin: () => present(healthy, null, {}),
  });

  list.push({
    id: "translate",
    text: "Find the torque that makes the tooth translate.",
    done: ({ main }) => mainTooth() === healthy && main.movement === "translation",
    answer: `${fixed(translationRatio(healthy), 2)} N\u00b7mm for each newton: the height of the push above the crest ` +
      `(${fixed(healthy.load.height_mm, 2)} mm) and the depth of the centre of resistance below it (${fixed(r.depth, 2)} mm), added.`,
    begin: () => present(healthy, null, {}),
  });

  list.push({
    id: "apex",
    text: "Hold the apex still: put the centre of rotation within 0.3 mm of the apex.",
    done: ({ main }) => mainTooth() === healthy && main.rotationDepth !== null && state.push > 0
      && Math.abs(main.rotationDepth - healthy.apexDepth) <= 0.3,
    answer: `${fixed(ratioForDepth(r, healthy.load.height_mm, healthy.apexDepth), 2)} N\u00b7mm for each newton. With less the apex ` +
      "goes against the push, with more it follows.",
    begin: () => present(healthy, null, {}),
  });

  const once = planarMotion(r, plainLoad(healthy, 6));
  const twice = planarMotion(r, { height: healthy.load.height_mm, force: 2, torque: 12 });
  const moved = (twice.rotationDepth ?? 0) - (once.rotationDepth ?? 0);
  list.push({
    id: "double",
    text: "Take 1 N with 6 N\u00b7mm, then double both. What does the centre of rotation do?",
    options: ["moves towards the apex", "stays where it is", "moves towards the crown"],
    correct: Math.abs(moved) < 1e-6 ? 1 : moved > 0 ? 0 : 2,
    answer: `It stays ${placeOf(once.rotationDepth)}. In this model only the ratio of torque to push decides where the tooth ` +
      "turns; their size decides how far.",
    begin: () => present(healthy, null, { torque: 6 }),
  });

  if (lost) {
    const ratio = translationRatio(healthy);
    const kind = kindUnder(lost, plainLoad(lost, ratio));
    const less = `${short(lost.bone_loss_mm - healthy.bone_loss_mm)} mm`;
    const motion = planarMotion(lost.resistance, plainLoad(lost, ratio));
    list.push({
      id: "bone",
      text: `The tooth translates with ${fixed(ratio, 1)} N\u00b7mm for each newton. Now remove ${less} of bone and change nothing ` +
        "else. What will it do?",
      options: MOVEMENTS,
      correct: MOVEMENTS.indexOf(kind),
      answer: `${upper(kind)}, ${fixed(motion.tipPerMm(lost.load.height_mm), 2)} \u00b0/mm. The centre of resistance has moved away ` +
        `from the crown, so the same push has a lever of ${fixed(translationRatio(lost), 1)} mm instead of ${fixed(ratio, 1)} mm.`,
      begin: () => present(healthy, lost, { torque: ratio }),
    });
    list.push({
      id: "bone-translate",
      text: `Find the torque that makes the tooth translate after ${less} of bone are gone.`,
      done: ({ main, beside }) => (mainTooth() === lost && main.movement === "translation")
        || (besideTooth() === lost && beside.movement === "translation"),
      answer: `${fixed(translationRatio(lost), 2)} N\u00b7mm for each newton, ${fixed(translationRatio(lost) - ratio, 2)} more than before.`,
      begin: () => present(healthy, lost, { torque: ratio }),
    });
  }

  const at = [plain.tipPerMm(0), plain.tipPerMm(healthy.load.height_mm), plain.tipPerMm(healthy.cuspHeight)];
  const spread = at[0] / at[2];
  list.push({
    id: "rule",
    text: `A rule of thumb says ${LESSON.rule_deg_per_mm} degrees for each millimetre of expansion (common practice, no source). ` +
      "Is that what this tooth tips under a plain push?",
    options: ["yes", "no", "it depends on where the millimetre is measured"],
    correct: spread > 1.3 ? 2 : Math.abs(at[1] - LESSON.rule_deg_per_mm) < 0.5 ? 0 : 1,
    answer: `${fixed(at[0], 1)} \u00b0/mm measured at the crest, ${fixed(at[1], 1)} at the attachment, ${fixed(at[2], 1)} at the ` +
      `${healthy.words.top}. A number of degrees for each millimetre means nothing until the point is named.`,
    begin: () => present(healthy, null, {}),
  });
  return list;
}

const element = (tag, properties = {}, ...children) => {
  const made = Object.assign(document.createElement(tag), properties);
  made.append(...children);
  return made;
};

let questions = [];
let askedAbout = null;

/** Writes the questions for the tooth at hand, if they are not there yet. */
function buildQuestions() {
  if (askedAbout === mainTooth().name) return;
  askedAbout = mainTooth().name;
  questions = questionList();
  questions.forEach((question, k) => { question.text = `${k + 1}. ${question.text}`; });
  document.getElementById("questions").replaceChildren(...questions.map((question) => {
    question.status = element("p", { className: "status" });
    question.status.setAttribute("role", "status");
    const start = element("button", { type: "button", textContent: "Set it up" });
    start.addEventListener("click", question.begin);
    const answer = element("details", {}, element("summary", { textContent: "Show the answer" }),
      element("p", { textContent: question.answer }));
    answer.dataset.answer = question.id;
    const parts = [question.options ? choices(question) : element("p", { className: "task", textContent: question.text })];
    const item = element("li", { id: `question-${question.id}` }, ...parts, element("div", { className: "row" }, start, question.status), answer);
    return item;
  }));
}

function choices(question) {
  const box = element("fieldset", {}, element("legend", { textContent: question.text }));
  question.options.forEach((text, k) => {
    const radio = element("input", { type: "radio", name: `question-${question.id}`, value: String(k) });
    radio.addEventListener("change", () => {
      const right = k === question.correct;
      question.status.textContent = right ? `Right. ${question.answer}` : "Not so. Try it with the controls.";
      question.status.className = `status ${right ? "right" : "wrong"}`;
    });
    box.append(element("label", {}, radio, ` ${text}`));
  });
  return box;
}

onChange((results) => {
  for (const question of questions.filter((q) => q.done)) {
    const done = question.done(results);
    if (done !== question.isDone) {
      question.isDone = done;
      question.status.textContent = done ? `Reached. ${question.answer}` : "Not reached yet.";
      question.status.className = `status ${done ? "right" : ""}`;
    }
  }
});

