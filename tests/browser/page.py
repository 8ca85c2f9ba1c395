"""A page in a headless Chromium: opens a file, watches for errors and requests, reads and drags.

Network and console are watched through the browser's own logs; a page that asks for anything but itself fails.
"""

import json
import time

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains

PHONE = (390, 844)
LAPTOP = (1280, 720)
PROJECTOR = (1920, 1080)


# Corners of every label that is seen, in pixels, from its box in its own frame; two convex shapes are apart if some normal of
# an edge parts them.
OVERPRINTED = """
const drawings = [...document.querySelectorAll('#curve svg, #map svg, .sheet svg')];
const shape = (text) => {
  const { x, y, width, height } = text.getBBox();
  const m = text.getScreenCTM();
  // The box of a line of text is taller than its letters.
  const [top, bottom] = [y + 0.2 * height, y + 0.85 * height];
  return [[x, top], [x + width, top], [x + width, bottom], [x, bottom]]
    .map(([u, v]) => [m.a * u + m.c * v + m.e, m.b * u + m.d * v + m.f]);
};
const parts = (a, b) => a.some((p, k) => {
  const q = a[(k + 1) % a.length];
  const n = [p[1] - q[1], q[0] - p[0]];
  const range = (s) => s.map((c) => c[0] * n[0] + c[1] * n[1]);
  return Math.max(...range(a)) <= Math.min(...range(b)) || Math.max(...range(b)) <= Math.min(...range(a));
});
const found = [];
for (const drawing of drawings) {
  const seen = [...drawing.querySelectorAll('text')].filter((t) => t.textContent.trim() && t.getBBox().width > 0
    && getComputedStyle(t).visibility !== 'hidden' && getComputedStyle(t).display !== 'none');
  const shapes = seen.map(shape);
  seen.forEach((a, i) => seen.slice(i + 1).forEach((b, j) => {
    if (!parts(shapes[i], shapes[i + 1 + j]) && !parts(shapes[i + 1 + j], shapes[i])) found.push(`${a.textContent} / ${b.textContent}`);
  }));
}
return found;
"""

TEXTS = """
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const texts = [document.title];
while (walker.nextNode()) {
  if (!walker.currentNode.parentElement.closest('script, style, code')) texts.push(walker.currentNode.textContent);
}
for (const element of document.querySelectorAll('*')) {
  for (const name of ['aria-label', 'aria-valuetext', 'title', 'alt']) if (element.hasAttribute(name)) texts.push(element.getAttribute(name));
}
return texts.map((t) => t.replace(/\\s+/g, ' ').trim()).filter(Boolean);
"""


class Page:
    """One page at one size."""

    def __init__(self, path, size=PROJECTOR, dark=False, calm=False, webgl=True):
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        flags = ["--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--hide-scrollbars"]
        # Without a graphics card the browser draws with its own software; WebGL can be taken from it.
        flags += ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"] if webgl else ["--disable-3d-apis"]
        for flag in flags:
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))
        self.calm = calm
        self.opened = set()
        self.open(path, size, dark)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.driver.quit()

    def cdp(self, command, **arguments):
        return self.driver.execute_cdp_cmd(command, arguments)

    def open(self, path, size=PROJECTOR, dark=False):
        """Opens a page at a size, light or dark, in the browser that is there."""
        width, height = size
        self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 500)
        features = {"prefers-color-scheme": "dark" if dark else "light"}
        if self.calm:
            features["prefers-reduced-motion"] = "reduce"
        self.cdp("Emulation.setEmulatedMedia", features=[{"name": k, "value": v} for k, v in features.items()])
        self.opened.add(path.as_uri())
        self.driver.get(path.as_uri())
        self.wait(lambda: self.run("return document.readyState === 'complete' && (!document.getElementById('lesson-data') || document.documentElement.dataset.ready === 'true')"))

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def wait(self, condition, seconds=30):
        end = time.monotonic() + seconds
        while not condition():
            if time.monotonic() > end:
                raise AssertionError("the page did not get there in time")
            time.sleep(0.02)

    def settle(self):
        """Two frames later everything that was changed is shown."""
        self.driver.execute_async_script(
            "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done()))"
        )

    def element(self, selector):
        return self.driver.find_element("css selector", selector)

    def number(self, name):
        """The full value behind an output; None where there is none."""
        text = self.run("return document.getElementById(arguments[0]).dataset.value", name)
        return float(text) if text else None

    def text(self, selector):
        return self.element(selector).text

    def show(self, selector):
        self.run("document.querySelector(arguments[0]).scrollIntoView({block: 'center', behavior: 'instant'})", selector)
        self.settle()

    def drag(self, selector, dx, dy=0, at=(0, 0)):
        """A pointer pressed on an element (off its middle by `at`), moved and let go."""
        self.show(selector)
        chain = ActionChains(self.driver, duration=60)
        chain.move_to_element_with_offset(self.element(selector), *at).click_and_hold()
        for _ in range(4):
            chain.move_by_offset(round(dx / 4), round(dy / 4))
        chain.release().perform()
        self.settle()

    def press(self, selector, *keys):
        self.show(selector)
        self.run("document.querySelector(arguments[0]).focus()", selector)
        ActionChains(self.driver).send_keys(*keys).perform()
        self.settle()

    def complaints(self):
        """Messages of the console, and requests for anything but the pages that were opened."""
        found = [entry["message"] for entry in self.driver.get_log("browser")]
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                url = message["params"]["request"]["url"]
                if url not in self.opened and not url.startswith("data:"):
                    found.append(f"asked for {url}")
        return found

    def overflow(self):
        """Pixels by which the page is wider than the screen."""
        return self.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth")

    def accessibility(self, axe):
        """Findings of axe-core that are serious or critical, one line each."""
        self.run(axe)
        result = self.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then(done, (e) => done({error: String(e)}))"
        )
        assert "error" not in result, result
        return [
            f"{v['impact']}: {v['id']}: {v['help']}: {v['nodes'][0]['html'][:120]}"
            for v in result["violations"]
            if v["impact"] in ("serious", "critical")
        ]

    def boxes(self, selectors):
        """Left, top, width and height of some elements on the page, whole pixels."""
        return self.run(
            "return arguments[0].map((s) => { const r = document.querySelector(s).getBoundingClientRect();"
            " return [r.x + scrollX, r.y + scrollY, r.width, r.height].map(Math.round); })", selectors)

    def overprinted(self):
        """Pairs of labels of the drawings that lie on each other: their boxes, turned as they are, share a place."""
        return self.run(OVERPRINTED)

    def texts(self):
        """Every text that a reader meets: what is written, and names and values that are read aloud."""
        return self.run(TEXTS)

    def screenshot(self, path):
        self.driver.save_screenshot(str(path))
