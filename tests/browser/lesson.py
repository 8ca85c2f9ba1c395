"""Lesson and report in a real browser: the lesson's controls are dragged, its numbers compared with the command line's.

    python lesson.py GOMPHOSIS AXE.js DIRECTORY

GOMPHOSIS is the program, AXE.js the source of axe-core, DIRECTORY where pages and pictures go. The reference of every
number is the program itself, asked for the same load on the command line: map.csv for any height and torque, and the
JSON of a single load for the pressures.
"""

import csv
import json
import math
import pathlib
import re
import statistics
import subprocess
import sys
import tomllib

from selenium.webdriver.common.keys import Keys

from page import LAPTOP, PHONE, PROJECTOR, Page

TOLERANCE = 1e-6
FAST = ["--bodies", "rigid"]
WORDS = pathlib.Path(__file__).parents[2] / "cli" / "assets" / "words"


def fail(text):
    raise AssertionError(text)


def close(what, got, expected, tolerance=TOLERANCE):
    if expected is None or got is None:
        if got is not expected:
            fail(f"{what}: the page says {got}, the command line {expected}")
        return 0.0
    error = abs(got - expected) / max(abs(expected), 1e-12)
    if error > tolerance:
        fail(f"{what}: the page says {got}, the command line {expected}: off by {error:.1e}")
    return error


class Program:
    """The command line."""

    def __init__(self, path, directory):
        self.path, self.directory = path, directory

    def run(self, *arguments):
        command = [self.path, *map(str, arguments)]
        done = subprocess.run(command, cwd=self.directory, capture_output=True, text=True)
        if done.returncode != 0:
            fail(f"{' '.join(command)}: {done.stderr}")
        return done.stdout

    def solve(self, case, **keys):
        sets = [word for key, value in keys.items() for word in ("--set", f"{key.replace('__', '.')}={value!r}")]
        return json.loads(self.run("solve", *case, *FAST, *sets, "--json"))

    def row(self, case, height, force, torque):
        """The row of a map at a height under a force and a torque."""
        ratio = torque / force
        sets = {
            "load.force_n": force, "map.height_from_mm": height, "map.height_to_mm": height + 1, "map.heights": 2,
            "map.moment_to_force_from_mm": ratio, "map.moment_to_force_to_mm": ratio + 1, "map.torques": 2,
        }
        words = [word for key, value in sets.items() for word in ("--set", f"{key}={value!r}")]
        self.run("map", *case, *FAST, *words, "--out", "row", "--quiet")
        with open(self.directory / "row" / "map.csv", newline="") as file:
            return next(csv.DictReader(file))


def compare_with_map(page, program, case, what):
    """Every number of the map's row against the page's."""
    height, force, torque = (page.number(name) for name in ("height-value", "push-value", "torque-value"))
    row = program.row(case, height, force, torque)
    number = lambda name: float(row[name]) if row[name] else None
    errors = [
        close(f"{what}: {name}", page.number(output), number(column))
        for output, column, name in [
            ("rotation", "centre_of_rotation_depth_mm", "centre of rotation"),
            ("tip", "tip_deg", "tip"),
            ("travel", "crown_travel_mm", "travel"),
            ("tip-attachment", "tip_deg_per_mm", "tip for each mm"),
            ("ratio-value", "moment_to_force_mm", "ratio"),
        ]
    ]
    movement = page.run("return document.getElementById('movement').dataset.value")
    if movement != row["movement"]:
        fail(f"{what}: the page says {movement}, the command line {row['movement']}")
    return max(errors)


def compare_with_solve(page, program, case):
    """Pressures and the three tips for each millimetre under a load at the usual height."""
    force, torque = page.number("push-value"), page.number("torque-value")
    result = program.solve(case, load__force_n=force, load__torque_nmm=torque)
    plane, root = result["bucco_lingual"], result["ligament"]["root_surface"]
    pairs = [
        ("resistance", plane["centre_of_resistance"]["depth_below_crest_mm"]),
        ("rotation", plane["centre_of_rotation"]["depth_below_crest_mm"]),
        ("tip-attachment", plane["tip_deg_per_mm"]["attachment"]),
        ("tip-top", plane["tip_deg_per_mm"]["cusp_tip"]),
        ("tip-crest", plane["tip_deg_per_mm"]["crest"]),
        ("compression", root["largest_pressure"]["kpa"]),
        ("tension", root["smallest_pressure"]["kpa"]),
        ("space-tip", result["three_d"]["motion"]["rotation_deg"][1]),
        ("space-turn", result["three_d"]["motion"]["rotation_deg"][2]),
        ("space-pitch", result["three_d"]["motion"]["screw_axis"]["pitch_mm"]),
    ]
    largest = 0.0
    for name, expected in pairs:
        # The turn about the long axis is next to nothing here: to a millionth of the tip.
        small = name in ("space-turn", "space-pitch")
        got = page.number(name)
        if small:
            scale = abs(result["three_d"]["motion"]["rotation_deg"][1]) if name == "space-turn" else 1.0
            if abs(got - expected) > TOLERANCE * scale:
                fail(f"{name}: the page says {got}, the command line {expected}")
        else:
            largest = max(largest, close(name, got, expected))
    return largest


def controls(page, program, case):
    """Drags every control and mark; the numbers must follow."""
    worst = compare_with_solve(page, program, case)
    before = page.number("torque-value")
    page.drag("#torque", 40)
    if page.number("torque-value") == before:
        fail("dragging the torque changed nothing")
    worst = max(worst, compare_with_solve(page, program, case), compare_with_map(page, program, case, "torque dragged"))
    page.drag("#height", -60)
    page.drag("#push", 70)
    if page.number("height-value") == before or page.number("push-value") in (1.0, 0.0):
        fail("dragging height and push changed nothing")
    worst = max(worst, compare_with_map(page, program, case, "height and push dragged"))
    page.element("#inward").click()
    page.settle()
    if page.number("push-value") >= 0:
        fail("the push was not turned round")
    worst = max(worst, compare_with_map(page, program, case, "pushed the other way"))
    page.element("#reset").click()
    page.settle()
    for mark, dx, dy in [("#curve .mark:not(.beside)", 120, 0), ("#map .mark", 90, -60)]:
        old = page.number("torque-value"), page.number("height-value")
        page.drag(mark, dx, dy)
        new = page.number("torque-value"), page.number("height-value")
        if new[0] == old[0] or (dy and new[1] == old[1]):
            fail(f"dragging {mark} went from {old} to {new}")
        worst = max(worst, compare_with_map(page, program, case, f"{mark} dragged"))
        page.press(mark, Keys.ARROW_LEFT, Keys.ARROW_LEFT)
        if abs(page.number("torque-value") - (new[0] - 0.2)) > 1e-6:
            fail(f"the arrow keys moved {mark} from {new[0]} to {page.number('torque-value')}")
    old = page.number("height-value")
    page.drag("#section-main .handle", 0, 40)
    if not page.number("height-value") < old:
        fail("dragging the attachment in the section did not lower it")
    page.press("#torque", Keys.ARROW_RIGHT)
    worst = max(worst, compare_with_map(page, program, case, "attachment dragged"))
    return worst


def translation(page, program, case):
    """The guided questions: translation is found where the command line says, healthy and with less bone."""
    healthy = program.solve(case)["bucco_lingual"]["torque_for_translation_mm"]
    lost = program.solve([*case, "--set", "bone.loss_mm=4"])["bucco_lingual"]["torque_for_translation_mm"]
    set_torque = "const t = document.getElementById('torque'); t.value = arguments[0]; t.dispatchEvent(new Event('input', {bubbles: true}))"
    for question, ratio in [("translate", healthy), ("bone-translate", lost)]:
        item = f"#question-{question}"
        page.show(item)
        page.element(f"{item} button").click()
        page.settle()
        if "Not reached" not in page.text(f"{item} .status"):
            fail(f"{question} is reached before anything was done")
        page.run(set_torque, ratio)
        page.settle()
        status = page.text(f"{item} .status")
        if not status.startswith("Reached") or f"{ratio:.2f} N" not in status:
            fail(f"{question} at {ratio}: {status}")
    page.show("#question-bone")
    page.element("#question-bone button").click()
    page.settle()
    kind = page.run("return document.querySelector('#section-beside figcaption span').textContent").lower()
    for radio in page.driver.find_elements("css selector", "#question-bone input"):
        label = radio.find_element("xpath", "..").text.strip()
        radio.click()
        page.settle()
        right = page.text("#question-bone .status").startswith("Right")
        if right != (label == kind):
            fail(f"'{label}' is called {'right' if right else 'wrong'}, the section shows '{kind}'")


def choice(page):
    """Another tooth, and none beside it."""
    page.run("const s = document.getElementById('beside'); s.value = ''; s.dispatchEvent(new Event('change', {bubbles: true}))")
    page.settle()
    if page.run("return document.getElementById('section-beside').hidden") is not True:
        fail("the second tooth is still there")
    page.run("const s = document.getElementById('tooth'); s.value = '1'; s.dispatchEvent(new Event('change', {bubbles: true}))")
    page.settle()
    if "4 mm of bone lost" not in page.text("#section-main figcaption"):
        fail("the other tooth is not shown")


SET = ("const [name, value] = arguments; const control = document.getElementById(name); control.value = value;"
       " control.dispatchEvent(new Event(control.tagName === 'SELECT' ? 'change' : 'input', {bubbles: true}))")


def torques(page, count=23):
    """Sets the torque to places over its whole range, from none that undoes the push to more than enough."""
    low, high = (float(page.run("return document.getElementById('torque')[arguments[0]]", end)) for end in ("min", "max"))
    for k in range(count):
        page.run(SET, "torque", low + (high - low) * k / (count - 1))
        page.settle()
        yield


def cost(page, program, case):
    """Torque takes travel from the same push: what is left is what the command line finds, and the page says what is held."""
    plain = float(program.row(case, page.number("height-value"), 1.0, 0.0)["crown_travel_mm"])
    for torque in (0.0, 5.0, 8.0, 11.7):
        page.run(SET, "torque", torque)
        page.settle()
        travel = float(program.row(case, page.number("height-value"), 1.0, torque)["crown_travel_mm"])
        close(f"travel left at {torque}", page.number("travel-left"), travel / plain)
    if page.number("travel-left") > 0.2:
        fail(f"{page.number('travel-left')} of the travel is left where the tooth hardly tips")
    if "not the millimetre" not in page.text("#numbers .small"):
        fail("nothing says that the newton is held")


def one_millimetre(page):
    """Drawn for a millimetre, the named place travels one, and the tooth keeps its size however far it turns."""
    page.run(SET, "torque", 3)
    for place in ("attachment", "top", "crest"):
        page.run(SET, "drawn", place)
        page.settle()
        tip_deg = page.number("tip") * page.number("enlargement-value")
        name = {"attachment": "tip-attachment", "top": "tip-top", "crest": "tip-crest"}[place]
        close(f"turn drawn for 1 mm at the {place}", tip_deg, page.number(name))
        turn = page.run("return document.querySelector('#section-main .moved').transform.baseVal.consolidate().matrix.b")
        close("sine of the turn drawn", turn, math.sin(math.radians(tip_deg)), 1e-5)
        size = page.run("const m = document.querySelector('#section-main .moved').transform.baseVal.consolidate().matrix;"
                        " return m.a * m.d - m.b * m.c")
        close("area of the tooth moved over that at rest", size, 1.0)
    page.run(SET, "drawn", "")
    page.run(SET, "torque", 0)
    page.settle()


STEADY = ["#section-main .sheet", "#controls", "#numbers dl", "#curve", "#map", "#questions"]


def layout(page, path, name):
    """At every size: nothing moves when the words change, no label lies on another; on a small screen the numbers are in sight."""
    for size in (PHONE, LAPTOP, PROJECTOR):
        page.open(path, size)
        if size == LAPTOP:
            for part in ("#controls", "#numbers dl", "#sections"):
                [(left, top, width, height)] = page.boxes([part])
                if top + height > size[1]:
                    fail(f"{name}: {part} ends {top + height - size[1]} pixels below a screen of {size[0]} by {size[1]}")
        before = page.boxes(STEADY)
        for _ in torques(page):
            after = page.boxes(STEADY)
            if after != before:
                moved = [f"{s} from {b} to {a}" for s, b, a in zip(STEADY, before, after) if a != b]
                fail(f"{name} at {size}: {'; '.join(moved)} at a torque of {page.number('torque-value')}")
            if page.overprinted():
                fail(f"{name} at {size}, torque {page.number('torque-value')}: labels on each other: {page.overprinted()}")
        for height in ("0", "100"):
            page.run(SET, "height", height)
            page.settle()
            if page.overprinted():
                fail(f"{name} at {size}, height {page.number('height-value')}: labels on each other: {page.overprinted()}")


def german(page, path, english):
    """The page in German says so and has no English left: none of the texts of its tables, and none of the English page's."""
    words = {}
    for table in ("de.toml", "de-lesson.toml"):
        words |= tomllib.loads((WORDS / table).read_text(encoding="utf-8"))
    page.open(english)
    before = page.texts()
    page.open(path)
    if page.run("return document.documentElement.lang") != "de":
        fail("the page does not say that it is in German")
    after = page.texts()
    whole = "\n".join(after)
    for text, own in words.items():
        pieces = [piece.strip(" .,:;()") for piece in text.split("{}")]
        for piece in pieces:
            known = "\n".join(words.values())
            if len(piece) > 3 and piece not in known and re.search(rf"(?<!\w){re.escape(piece)}(?!\w)", whole):
                fail(f"the German page says '{piece}'")
    same = {text for text in set(before) & set(after) if re.search("[A-Za-z]{3}", text)}
    # Names and words that both languages have.
    kept = re.compile(r"gomphosis|^(labial|palatal|lingual|mesial|distal|Translation|translation|apex|Apex)$|^[\d.,\s−–]*(kPa|MPa|N·mm)")
    if left := sorted(text for text in same if not kept.search(text)):
        fail(f"texts of the English page in the German one: {left}")
    print(f"  German: {len(after)} texts, none of the English page's")


# Moves the torque step by step, a frame each; gives ms of script for each: the event, and everything drawn anew.
MOVE = """
const [steps, done] = arguments;
const torque = document.getElementById('torque');
const events = [];
const step = (k) => {
  if (k === steps) return done(events.map((ms, j) => ms + window.lessonTimes().slice(-steps)[j]));
  const start = performance.now();
  torque.value = Number(torque.min) + ((Number(torque.max) - Number(torque.min)) * (k + 0.5)) / steps;
  torque.dispatchEvent(new Event('input', {bubbles: true}));
  events.push(performance.now() - start);
  requestAnimationFrame(() => step(k + 1));
};
step(0);
"""


def measure(page):
    """Time of the script from a control to everything redrawn, ms, with the view in space in sight."""
    page.show("#space")
    triangles = page.run("return window.lessonTriangles()")
    if triangles < 20000:
        fail(f"{triangles} triangles are too few to measure with")
    times = page.driver.execute_async_script(MOVE, 40)
    print(f"  {triangles} triangles in space: an input takes {statistics.median(times):.2f} ms of script (median of {len(times)}; "
          f"largest {max(times):.2f})")


def looks(page, path, axe, name):
    """Phone and projector, light and dark: accessible, nothing beyond the edge, no complaints; pictures for people."""
    for size, screen in [(PHONE, "phone"), (LAPTOP, "laptop"), (PROJECTOR, "projector")]:
        for dark in (False, True):
            page.open(path, size, dark)
            picture = f"{name}-{screen}-{'dark' if dark else 'light'}"
            findings = page.accessibility(axe)
            if findings:
                fail(f"{picture}: " + "; ".join(findings))
            if page.overflow() > 0:
                fail(f"{picture}: {page.overflow()} pixels wider than the screen")
            page.screenshot(path.parent / f"{picture}.png")
            if complaints := page.complaints():
                fail(f"{picture}: {complaints}")
            ready = page.run("return window.lessonReadyMs ?? 0")
            print(f"  {picture}: {f'ready {ready:.0f} ms after the start, ' if ready else ''}no serious finding")


def bare(path):
    """Without WebGL the page says so and works on; with reduced motion the torque grows in a few steps."""
    with Page(path, webgl=False, calm=True) as page:
        page.show("#space")
        page.wait(lambda: page.run("return document.getElementById('space').classList.contains('missing')"))
        if not page.element(".missing-note").is_displayed():
            fail("nothing tells that there is no WebGL")
        page.show("#play")
        page.element("#play").click()
        page.settle()
        first = page.number("torque-value")
        page.wait(lambda: page.number("torque-value") != first)
        if page.number("torque-value") - first < 1:
            fail("with reduced motion the torque grows in small steps")
        complaints = [text for text in page.complaints() if "WebGL" not in text and "webgl" not in text]
        if complaints:
            fail(str(complaints))
        pdf = page.cdp("Page.printToPDF", printBackground=True)["data"]
        if len(pdf) < 20000:
            fail("the printed page is empty")


def main():
    program_path, axe_path, directory = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]).resolve()
    axe = axe_path.read_text(encoding="utf-8")
    program = Program(program_path, directory)
    case = ["14"]
    lesson, fine, report, lektion, several = (
        directory / f"{name}.html" for name in ("lesson", "fine", "report", "lektion", "several"))
    program.run("lesson", *case, *FAST, "--bone-loss", "4", "--out", lesson, "--quiet")
    program.run("lesson", "16", *FAST, "--set", "mesh.element_size_mm=0.95", "--out", fine, "--quiet")
    program.run("lesson", *case, *FAST, "--bone-loss", "4", "--language", "de", "--out", lektion, "--quiet")
    program.run("lesson", "36", "11", *FAST, "--bone-loss", "5", "--out", several, "--quiet")
    program.run("report", "16", *FAST, "--set", "load.torque_nmm=5", "--out", report, "--quiet")
    with Page(lesson, (1200, 800)) as page:
        worst = controls(page, program, case)
        translation(page, program, case)
        cost(page, program, case)
        one_millimetre(page)
        choice(page)
        if complaints := page.complaints():
            fail(str(complaints))
        print(f"  numbers equal those of the command line; largest relative difference {worst:.1e}")
        page.open(fine)
        measure(page)
        if complaints := page.complaints():
            fail(str(complaints))
        for path, name in [(lesson, "lesson"), (lektion, "lektion"), (several, "several")]:
            layout(page, path, name)
        german(page, lektion, lesson)
        looks(page, lesson, axe, "lesson")
        looks(page, lektion, axe, "lektion")
        looks(page, report, axe, "report")
    bare(lesson)


if __name__ == "__main__":
    try:
        main()
    except AssertionError as error:
        sys.exit(f"lesson: {error}")
