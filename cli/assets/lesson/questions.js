// Guided questions. Every answer is computed here from the tooth at hand; none is written down.

/** The healthy tooth that questions are about, and the same tooth with less bone, if there is one. */
function questionTeeth() {
  const same = TEETH.filter((t) => t.family === mainTooth().family);
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
    text: say("Push with 1 N and no torque. About which point does the tooth turn?"),
    options: [noted("about the centre of resistance"), noted("about a point of the root apical of it"), noted("about the apex"), noted("about the crest")].map(say),
    correct: Math.abs(below) < 0.05 ? 0 : plain.rotationDepth > healthy.apexDepth - 0.3 ? 2 : below > 0 ? 1 : 3,
    answer: tell(below > 0
      ? noted("The push acts {} mm from the centre of resistance and turns the tooth about a point {} mm apical of it. The product of both distances, {} mm², is a constant of this tooth.")
      : noted("The push acts {} mm from the centre of resistance and turns the tooth about a point {} mm occlusal of it. The product of both distances, {} mm², is a constant of this tooth."),
    fixed(translationRatio(healthy), 2), fixed(Math.abs(below), 2), fixed(r.sigmaSquared, 2)),
    begin: () => present(healthy, null, {}),
  });

  const top = healthy.ranges.height_mm[1];
  const [usual, high] = [healthy.load.height_mm, top].map((height) =>
    planarMotion(r, { height, force: 1, torque: 0 }).tipPerMm(height));
  list.push({
    id: "raise",
    text: tell("Raise the attachment as far as it goes, towards the {}, still without torque. For each millimetre that the attachment travels, does the tooth tip more or less?", healthy.words.top),
    options: [noted("more"), noted("less"), noted("the same")].map(say),
    correct: Math.abs(high - usual) < 0.02 ? 2 : high > usual ? 0 : 1,
    answer: tell("From {} to {} °/mm. The angle for each newton grows, but the point where the millimetre is measured moves up as well and travels further.", fixed(usual, 2), fixed(high, 2)),
    begin: () => present(healthy, null, {}),
  });

  list.push({
    id: "translate",
    text: say("Find the torque that makes the tooth translate."),
    done: ({ main }) => mainTooth() === healthy && main.movement === "translation",
    answer: tell("{} N·mm for each newton: the height of the push above the crest ({} mm) and the depth of the centre of resistance below it ({} mm), added.",
      fixed(translationRatio(healthy), 2), fixed(healthy.load.height_mm, 2), fixed(r.depth, 2)),
    begin: () => present(healthy, null, {}),
  });

  const alone = plain.travelAt(healthy.load.height_mm);
  const straight = planarMotion(r, plainLoad(healthy, translationRatio(healthy))).travelAt(healthy.load.height_mm);
  const left = straight / alone;
  const SHARES = [0.9, 0.5, 0.1];
  list.push({
    id: "cost",
    text: say("Push with 1 N, then add the torque that makes the tooth translate and keep the push. How much of the travel of the attachment is left?"),
    options: [noted("nearly all of it"), noted("about half"), noted("about a tenth")].map(say),
    correct: SHARES.map((share) => Math.abs(Math.log(left / share))).reduce((best, off, k, all) => (off < all[best] ? k : best), 0),
    answer: tell("{} %: {} µm instead of {} µm. The newton is held here, not the millimetre; to travel as far without tipping, the tooth needs {} times the push.",
      fixed(100 * left, 1), fixed(1000 * straight, 2), fixed(1000 * alone, 2), fixed(1 / left, 1)),
    begin: () => present(healthy, null, {}),
  });

  list.push({
    id: "apex",
    text: say("Hold the apex still: put the centre of rotation within 0.3 mm of the apex."),
    done: ({ main }) => mainTooth() === healthy && main.rotationDepth !== null && state.push > 0
      && Math.abs(main.rotationDepth - healthy.apexDepth) <= 0.3,
    answer: tell("{} N·mm for each newton. With less the apex goes against the push, with more it follows.",
      fixed(ratioForDepth(r, healthy.load.height_mm, healthy.apexDepth), 2)),
    begin: () => present(healthy, null, {}),
  });

  const once = planarMotion(r, plainLoad(healthy, 6));
  const twice = planarMotion(r, { height: healthy.load.height_mm, force: 2, torque: 12 });
  const moved = (twice.rotationDepth ?? 0) - (once.rotationDepth ?? 0);
  list.push({
    id: "double",
    text: say("Take 1 N with 6 N·mm, then double both. What does the centre of rotation do?"),
    options: [noted("moves towards the apex"), noted("stays where it is"), noted("moves towards the crown")].map(say),
    correct: Math.abs(moved) < 1e-6 ? 1 : moved > 0 ? 0 : 2,
    answer: tell("It stays {}. In this model only the ratio of torque to push decides where the tooth turns; their size decides how far.",
      placeOf(once.rotationDepth)),
    begin: () => present(healthy, null, { torque: 6 }),
  });

  if (lost) {
    const ratio = translationRatio(healthy);
    const kind = kindUnder(lost, plainLoad(lost, ratio));
    const less = short(lost.bone_loss_mm - healthy.bone_loss_mm);
    const motion = planarMotion(lost.resistance, plainLoad(lost, ratio));
    list.push({
      id: "bone",
      text: tell("The tooth translates with {} N·mm for each newton. Now remove {} mm of bone and change nothing else. What will it do?", fixed(ratio, 2), less),
      options: MOVEMENTS.map(say),
      correct: MOVEMENTS.indexOf(kind),
      answer: tell("{}, {} °/mm. The centre of resistance has moved away from the crown, so the same push has a lever of {} mm instead of {} mm.",
        upper(say(kind)), fixed(motion.tipPerMm(lost.load.height_mm), 2), fixed(translationRatio(lost), 2), fixed(ratio, 2)),
      begin: () => present(healthy, lost, { torque: ratio }),
    });
    list.push({
      id: "bone-translate",
      text: tell("Find the torque that makes the tooth translate after {} mm of bone are gone.", less),
      done: ({ main, beside }) => (mainTooth() === lost && main.movement === "translation")
        || (besideTooth() === lost && beside.movement === "translation"),
      answer: tell("{} N·mm for each newton, {} more than before.", fixed(translationRatio(lost), 2), fixed(translationRatio(lost) - ratio, 2)),
      begin: () => present(healthy, lost, { torque: ratio }),
    });
  }

  const at = [plain.tipPerMm(0), plain.tipPerMm(healthy.load.height_mm), plain.tipPerMm(healthy.cuspHeight)];
  const spread = at[0] / at[2];
  list.push({
    id: "rule",
    text: tell("A rule of thumb says {} degrees for each millimetre of expansion (common practice, no source). Is that what this tooth tips under a plain push?", short(LESSON.rule_deg_per_mm)),
    options: [noted("yes"), noted("no"), noted("it depends on where the millimetre is measured")].map(say),
    correct: spread > 1.3 ? 2 : Math.abs(at[1] - LESSON.rule_deg_per_mm) < 0.5 ? 0 : 1,
    answer: tell("{} °/mm measured at the crest, {} at the attachment, {} at the {}, for each millimetre of this tooth. A number of degrees for each millimetre means nothing until the point is named, and until it is said whether the millimetre is that of one side or of the width of the arch, which is twice as much.",
      ...at.map((v) => fixed(v, 2)), healthy.words.top),
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
  if (askedAbout === mainTooth().family) return;
  askedAbout = mainTooth().family;
  questions = questionList();
  questions.forEach((question, k) => { question.text = `${k + 1}. ${question.text}`; });
  document.getElementById("questions").replaceChildren(...questions.map((question) => {
    question.status = element("p", { className: "status" });
    question.status.setAttribute("role", "status");
    const start = element("button", { type: "button", textContent: say("Set it up") });
    start.addEventListener("click", question.begin);
    const answer = element("details", {}, element("summary", { textContent: say("Show the answer") }),
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
      question.status.textContent = right ? `${say("Right.")} ${question.answer}` : say("Not so. Try it with the controls.");
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
      question.status.textContent = done ? `${say("Reached.")} ${question.answer}` : say("Not reached yet.");
      question.status.className = `status ${done ? "right" : ""}`;
    }
  }
});

