// Colours of the two scales: straight lines in Oklab (B. Ottosson 2020), with the ends of the figures, light and dark.

const DARK = window.matchMedia("(prefers-color-scheme: dark)");

function fromOklab([l, a, b]) {
  const cube = (x) => x * x * x;
  const lms = [
    cube(l + 0.3963377774 * a + 0.2158037573 * b),
    cube(l - 0.1055613458 * a - 0.0638541728 * b),
    cube(l - 0.0894841775 * a - 1.291485548 * b),
  ];
  return [
    4.0767416621 * lms[0] - 3.3077115913 * lms[1] + 0.2309699292 * lms[2],
    -1.2684380046 * lms[0] + 2.6097574011 * lms[1] - 0.3413193965 * lms[2],
    -0.0041960863 * lms[0] - 0.7034186147 * lms[1] + 1.707614701 * lms[2],
  ].map((linear) => {
    const x = Math.min(1, Math.max(0, linear));
    return Math.round(255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055));
  });
}

/** A table of a scale from -1 to 1 in even steps, red, green and blue after one another. */
function scaleTable(name, steps) {
  const { low, middle, high } = LESSON.scales[name][isDark() ? 1 : 0];
  return Array.from({ length: steps }, (_, k) => {
    const v = (2 * k) / (steps - 1) - 1;
    const end = v < 0 ? low : high;
    return fromOklab(middle.map((m, n) => m + Math.abs(v) * (end[n] - m)));
  });
}

const STEPS = 255;
/** Set for printing: paper is white. */
let printing = false;
const isDark = () => DARK.matches && !printing;
let tables = {};

function readScales() {
  const text = (name) => scaleTable(name, STEPS).map(([r, g, b]) => `rgb(${r},${g},${b})`);
  tables = { pressure: text("pressure"), tip: text("tip") };
}

/** Colour of a value from -1 to 1. */
const colourOf = (name, value) =>
  tables[name][Math.round(((Math.min(1, Math.max(-1, value)) + 1) / 2) * (STEPS - 1))];

/** A colour of the style by its name. */
const inkOf = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

