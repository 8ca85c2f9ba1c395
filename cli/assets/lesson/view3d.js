// The view in space: the root in its socket with ligament pressure by colour, the crown, the screw axis of the motion and
// the axes of resistance. Plain WebGL; where that is missing the page says so and the section serves.

const VERTEX = `
attribute vec3 place; attribute vec3 normal; attribute float value; attribute vec3 ink;
uniform mat3 frame; uniform vec3 centre; uniform vec3 zoom; uniform mat3 turn; uniform vec3 shift;
varying float v; varying vec3 n; varying vec3 c;
void main() {
  vec3 p = frame * (place + turn * place + shift - centre);
  gl_Position = vec4(p.x * zoom.x, p.y * zoom.y, -p.z * zoom.z, 1.0);
  v = value; n = frame * normal; c = ink;
}`;
const FRAGMENT = `
precision mediump float;
varying float v; varying vec3 n; varying vec3 c;
uniform vec3 low; uniform vec3 middle; uniform vec3 high; uniform float coloured; uniform float lit;
vec3 srgb(vec3 lab) {
  vec3 r = vec3(lab.x + 0.3963377774 * lab.y + 0.2158037573 * lab.z, lab.x - 0.1055613458 * lab.y - 0.0638541728 * lab.z,
                lab.x - 0.0894841775 * lab.y - 1.291485548 * lab.z);
  r = r * r * r;
  vec3 linear = clamp(vec3(dot(vec3(4.0767416621, -3.3077115913, 0.2309699292), r),
    dot(vec3(-1.2684380046, 2.6097574011, -0.3413193965), r), dot(vec3(-0.0041960863, -0.7034186147, 1.707614701), r)), 0.0, 1.0);
  return mix(12.92 * linear, 1.055 * pow(max(linear, vec3(1e-6)), vec3(1.0 / 2.4)) - 0.055, step(0.0031308, linear));
}
void main() {
  float s = clamp(v, -1.0, 1.0);
  vec3 base = coloured > 0.5 ? srgb(mix(middle, s < 0.0 ? low : high, abs(s))) : c;
  float light = dot(normalize(n), normalize(vec3(-0.35, 0.45, 1.0)));
  gl_FragColor = vec4(base * mix(1.0, 0.72 + 0.28 * abs(light), lit), 1.0);
}`;

const space = { yaw: -0.5, pitch: 0.18, zoom: 1, visible: false };

/** Unit vectors of the screen: right, up, towards the reader. Without turning: as in the section. */
function screenFrame() {
  const [s, c, sp, cp] = [Math.sin(space.yaw), Math.cos(space.yaw), Math.sin(space.pitch), Math.cos(space.pitch)];
  return [[c, s, 0], [-s * sp, c * sp, cp], [s * cp, -c * cp, sp]];
}

/** Normals of points, from triangles whose turn is taken as they come. */
function normalsOf(places, lists) {
  const normals = new Float32Array(places.length);
  const p = (i) => [places[3 * i], places[3 * i + 1], places[3 * i + 2]];
  for (const list of lists) {
    for (let t = 0; t < list.length; t += 3) {
      const [a, b, c] = [p(list[t]), p(list[t + 1]), p(list[t + 2])];
      const n = cross(minus(b, a), minus(c, a));
      for (let k = 0; k < 3; k += 1) for (let m = 0; m < 3; m += 1) normals[3 * list[t + k] + m] += n[m];
    }
  }
  return normals;
}

class SpaceView {
  constructor(canvas) {
    this.canvas = canvas;
    this.gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
    if (!this.gl) throw new Error("no WebGL");
    const { gl } = this;
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    gl.useProgram(program);
    gl.enable(gl.DEPTH_TEST);
    this.wide = gl.getExtension("OES_element_index_uint");
    this.at = (name) => gl.getUniformLocation(program, name);
    this.slots = Object.fromEntries(["place", "normal", "value", "ink"].map((name) => [name, gl.getAttribLocation(program, name)]));
    this.buffers = Object.fromEntries(["place", "normal", "value", "root", "crown", "socket", "tubes"].map((name) => [name, gl.createBuffer()]));
  }

  /** Hands the surfaces of a tooth over. */
  load(tooth) {
    const { gl } = this;
    const { solid } = tooth;
    this.tooth = tooth;
    this.values = new Float32Array(solid.points.length / 3);
    const fill = (target, name, data) => {
      gl.bindBuffer(target, this.buffers[name]);
      gl.bufferData(target, data, gl.STATIC_DRAW);
    };
    fill(gl.ARRAY_BUFFER, "place", solid.points);
    fill(gl.ARRAY_BUFFER, "normal", normalsOf(solid.points, [solid.root, solid.crown, solid.socket]));
    fill(gl.ARRAY_BUFFER, "value", this.values);
    for (const name of ["root", "crown", "socket"]) fill(gl.ELEMENT_ARRAY_BUFFER, name, solid[name]);
    let [low, high] = [Infinity, -Infinity];
    for (let i = 2; i < solid.points.length; i += 3) {
      low = Math.min(low, solid.points[i]);
      high = Math.max(high, solid.points[i]);
    }
    this.centre = [0, 0, 0.5 * (low + high)];
    this.half = 0.5 * (high - low) + 1.5;
  }

  /** Draws the tooth moved, with tubes for loads and axes. */
  render(motion, enlargement, pressures, tubes) {
    const { gl, tooth, slots, buffers } = this;
    const { solid } = tooth;
    const [width, height] = [this.canvas.width, this.canvas.height];
    gl.viewport(0, 0, width, height);
    const paper = rgbOf("paper");
    gl.clearColor(...paper, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const frame = screenFrame();
    // Columns after one another.
    gl.uniformMatrix3fv(this.at("frame"), false, [0, 1, 2].flatMap((j) => frame.map((row) => row[j])));
    gl.uniform3fv(this.at("centre"), this.centre);
    const scale = (space.zoom * Math.min(1, width / height)) / this.half;
    const [zx, zy] = width > height ? [(scale * height) / width, scale] : [scale, (scale * width) / height];
    [this.zx, this.zy] = [zx, zy];
    gl.uniform3f(this.at("zoom"), zx, zy, 0.01);
    // The tooth keeps its daylight colours on a dark ground too: dark on dark it would have no shape.
    const ends = LESSON.scales.pressure[0];
    for (const name of ["low", "middle", "high"]) gl.uniform3fv(this.at(name), ends[name]);
    const { kpaEnd } = this;
    for (let i = 0; i < solid.rootCount; i += 1) this.values[i] = pressures[i] / kpaEnd;
    gl.bindBuffer(gl.ARRAY_BUFFER, buffers.value);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, this.values.subarray(0, solid.rootCount));
    const array = (name, slot, size) => {
      gl.bindBuffer(gl.ARRAY_BUFFER, buffers[name]);
      gl.enableVertexAttribArray(slots[slot]);
      gl.vertexAttribPointer(slots[slot], size, gl.FLOAT, false, 0, 0);
    };
    array("place", "place", 3);
    array("normal", "normal", 3);
    array("value", "value", 1);
    gl.disableVertexAttribArray(slots.ink);
    const kind = solid.root instanceof Uint32Array ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT;
    const surface = (name, coloured, ink) => {
      gl.uniform1f(this.at("coloured"), coloured);
      gl.vertexAttrib3fv(slots.ink, ink);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, buffers[name]);
      gl.drawElements(gl.TRIANGLES, solid[name].length, kind, 0);
    };
    gl.uniform1f(this.at("lit"), 1);
    const still = () => {
      gl.uniformMatrix3fv(this.at("turn"), false, new Array(9).fill(0));
      gl.uniform3f(this.at("shift"), 0, 0, 0);
    };
    still();
    // Of the socket's wall only the far side is seen, from within.
    gl.enable(gl.CULL_FACE);
    gl.cullFace(this.wallFrontIsOutward ? gl.FRONT : gl.BACK);
    surface("socket", 0, shares(LESSON.daylight.socket));
    gl.disable(gl.CULL_FACE);
    const { turn, shift } = carriedOnInSpace(motion, enlargement);
    gl.uniformMatrix3fv(this.at("turn"), false, [0, 1, 2].flatMap((j) => turn.map((row) => row[j])));
    gl.uniform3fv(this.at("shift"), shift);
    surface("root", 1, [1, 1, 1]);
    surface("crown", 0, shares(LESSON.daylight.tooth));
    still();
    this.renderTubes(tubes);
  }

  renderTubes(tubes) {
    const { gl, slots, buffers } = this;
    const data = new Float32Array(tubes.flatMap(tubeTriangles));
    gl.bindBuffer(gl.ARRAY_BUFFER, buffers.tubes);
    gl.bufferData(gl.ARRAY_BUFFER, data, gl.DYNAMIC_DRAW);
    gl.disableVertexAttribArray(slots.value);
    for (const [slot, offset] of [["place", 0], ["normal", 12], ["ink", 24]]) {
      gl.enableVertexAttribArray(slots[slot]);
      gl.vertexAttribPointer(slots[slot], 3, gl.FLOAT, false, 36, offset);
    }
    gl.uniform1f(this.at("coloured"), 0);
    gl.drawArrays(gl.TRIANGLES, 0, data.length / 9);
  }

  /** Where a place of the tooth is seen, in shares of the canvas from its upper left corner. */
  seen(place) {
    const [x, y] = screenFrame().slice(0, 2).map((row) => dot(row, minus(place, this.centre)));
    return [0.5 * (1 + x * this.zx), 0.5 * (1 - y * this.zy)];
  }
}

/** A colour of the style as shares of red, green and blue. */
const rgbOf = (name) => shares(inkOf(name));
const shares = (hex) => hex.match(/[0-9a-f]{2}/gi).map((two) => parseInt(two, 16) / 255);

/** Triangles of a tube, or of a cone if its end has no radius: place, normal and ink of corner after corner. */
function tubeTriangles({ from, to, radius, end = radius, ink }) {
  const along = minus(to, from);
  const length = Math.hypot(...along);
  if (length < 1e-9) return [];
  const d = times(along, 1 / length);
  const side = Math.abs(d[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0];
  const u = times(cross(d, side), 1 / Math.hypot(...cross(d, side)));
  const v = cross(d, u);
  const sides = 10;
  const rim = Array.from({ length: sides + 1 }, (_, k) => {
    const a = (2 * Math.PI * k) / sides;
    return plus(times(u, Math.cos(a)), times(v, Math.sin(a)));
  });
  const out = [];
  const corner = (centre, r, n) => out.push(...plus(centre, times(n, r)), ...n, ...ink);
  for (let k = 0; k < sides; k += 1) {
    for (const [c, r, n] of [[from, radius, rim[k]], [from, radius, rim[k + 1]], [to, end, rim[k]],
      [to, end, rim[k]], [from, radius, rim[k + 1]], [to, end, rim[k + 1]]]) corner(c, r, n);
  }
  return out;
}

/** Begins the view when it first comes into sight, so that the page opens without waiting for it. */
function awaitSpace() {
  const canvas = document.getElementById("space-canvas");
  new IntersectionObserver((entries) => {
    space.visible = entries[entries.length - 1].isIntersecting;
    if (!space.visible) return;
    if (!space.view && !space.tried) buildSpace();
    showSpace();
  }).observe(canvas);
}

function buildSpace() {
  const holder = document.getElementById("space");
  space.tried = true;
  try {
    space.view = new SpaceView(document.getElementById("space-canvas"));
  } catch (error) {
    holder.classList.add("missing");
    return;
  }
  const { view } = space;
  view.kpaEnd = PRESSURE_END;
  view.wallFrontIsOutward = true;
  space.labels = draw(holder.querySelector(".labels"), "svg", { class: "space-labels", "aria-hidden": "true" });
  const { canvas } = view;
  canvas.addEventListener("pointerdown", (event) => canvas.setPointerCapture(event.pointerId));
  canvas.addEventListener("pointermove", (event) => {
    if (!canvas.hasPointerCapture(event.pointerId)) return;
    turnSpace(-0.01 * event.movementX, 0.01 * event.movementY);
  });
  steerable(canvas, (right, up) => turnSpace(0.1 * right, -0.1 * up));
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas) return;
    zoomSpace(Math.exp(-0.001 * event.deltaY));
    event.preventDefault();
  }, { passive: false });
  const presets = { "from-distal": [0, 0], "from-buccal": [Math.PI / 2, 0], "from-occlusal": [0, 1.35] };
  for (const [id, [yaw, pitch]] of Object.entries(presets)) {
    document.getElementById(id).addEventListener("click", () => {
      Object.assign(space, { yaw, pitch });
      showSpace();
    });
  }
  document.getElementById("nearer").addEventListener("click", () => zoomSpace(1.25));
  document.getElementById("farther").addEventListener("click", () => zoomSpace(0.8));
  new ResizeObserver(() => {
    fitSpace();
    showSpace();
  }).observe(canvas);
}

/** As many pixels as the screen has. */
function fitSpace() {
  const { canvas } = space.view;
  const ratio = Math.min(2, window.devicePixelRatio || 1);
  canvas.width = Math.max(1, Math.round(canvas.clientWidth * ratio));
  canvas.height = Math.max(1, Math.round(canvas.clientHeight * ratio));
}

/** Draws the view for paper, whether it was in sight or not. */
function printSpace() {
  if (!space.view && !space.tried) buildSpace();
  if (!space.view) return;
  const { visible } = space;
  space.visible = true;
  fitSpace();
  showSpace();
  space.visible = visible;
}

function turnSpace(yaw, pitch) {
  space.yaw += yaw;
  space.pitch = clamp(space.pitch + pitch, -1.5, 1.5);
  showSpace();
}

function zoomSpace(factor) {
  space.zoom = clamp(space.zoom * factor, 0.5, 6);
  showSpace();
}

/** A line of a length through the point of an axis that is nearest to a place. */
function stretch(axis, near, length) {
  const foot = plus(axis.point, times(axis.direction, dot(minus(near, axis.point), axis.direction)));
  return [-0.5, 0.5].map((k) => plus(foot, times(axis.direction, k * length)));
}

/** Numbers and picture in space. */
function showSpace() {
  const tooth = mainTooth();
  const load = loadOn(tooth);
  const weights = weightsOn(tooth, load, state.mesial);
  const motion = spaceMotion(tooth.compliance, weights);
  const screw = screwOf(motion);
  showSpaceNumbers(tooth, motion, screw);
  const { view } = space;
  if (!view || !space.visible) return;
  if (view.tooth !== tooth) view.load(tooth);
  const pressures = rootPressures(tooth, weights, tooth.spaceScratch ??= new Float64Array(tooth.solid.rootCount));
  const [x, y] = tooth.landmarks.attachment_mm;
  const attachment = [x, y, load.height];
  const force = [load.force, state.mesial, 0];
  const size = Math.hypot(...force);
  const tubes = [];
  const near = [0, 0, -tooth.resistance.depth];
  for (const axis of axesOfResistance(tooth.compliance)) {
    const [from, to] = stretch(axis, near, 12);
    tubes.push({ from, to, radius: 0.1, ink: rgbOf("resistance") });
  }
  const names = [];
  const [, edge] = stretch(axesOfResistance(tooth.compliance)[1], near, 12);
  names.push([edge, say("axes of resistance"), "resistance-ink"]);
  if (screw) {
    const [from, to] = stretch(screw, near, 17);
    tubes.push({ from, to, radius: 0.2, ink: rgbOf("moved") });
    names.push([to, say("screw axis"), "moved-ink"]);
  }
  if (size > 0) {
    const unit = times(force, 1 / size);
    const neck = plus(attachment, times(unit, 1.5 + 2 * size));
    tubes.push({ from: attachment, to: neck, radius: 0.22, ink: rgbOf("load") });
    tubes.push({ from: neck, to: plus(neck, times(unit, 1.2)), radius: 0.6, end: 0.01, ink: rgbOf("load") });
    names.push([plus(neck, times(unit, 1.6)), `${fixed(size, 2)} N`, "load-ink"]);
  }
  view.render(motion, enlargementOf(tooth, { load, motion: planarMotion(tooth.resistance, load) }), pressures, tubes);
  showSpaceLabels(view, names);
}

function showSpaceLabels(view, names) {
  const { labels } = space;
  const [width, height] = [view.canvas.clientWidth, view.canvas.clientHeight];
  labels.setAttribute("viewBox", `0 0 ${width} ${height}`);
  labels.replaceChildren();
  const taken = [];
  for (const [place, text, ink] of names) {
    const [sx, sy] = view.seen(place);
    const x = clamp(sx * width, 4, width - 130);
    let y = clamp(sy * height - 6, 14, height - 6);
    // Below those it would cover.
    for (const [tx, ty] of taken) if (Math.abs(tx - x) < 140 && Math.abs(ty - y) < 17) y = ty + 17;
    taken.push([x, y]);
    draw(labels, "text", { class: `label ${ink}`, x: n2(x), y: n2(y) }, text);
  }
  // The directions, in the corner.
  const frame = screenFrame();
  const { words } = mainTooth();
  const origin = [86, height - 62];
  [[words.outward, 0], [say("mesial"), 1], [words.upward, 2]].forEach(([word, k]) => {
    const [dx, dy] = [30 * frame[0][k], -30 * frame[1][k]];
    draw(labels, "path", { class: "triad", d: arrowPath(origin, plus(origin, [dx, dy]), 8, 3.5) });
    draw(labels, "text", {
      class: "direction", x: n2(origin[0] + 1.35 * dx), y: n2(origin[1] + 1.35 * dy + 4),
      "text-anchor": dx < -8 ? "end" : dx > 8 ? "start" : "middle",
    }, word);
  });
}

function showSpaceNumbers(tooth, motion, screw) {
  const about = motion.rotation.map((r) => r * DEGREES);
  const numbers = {
    "space-tip": [about[1], `${fixed(about[1], 4)}\u00b0`],
    "space-tilt": [-about[0], `${fixed(-about[0], 4)}\u00b0`],
    "space-turn": [about[2], `${fixed(about[2], 4)}\u00b0`],
    "space-pitch": [screw ? screw.pitch : null, screw ? `${fixed(screw.pitch, 2)} mm` : say("no axis: translation")],
  };
  for (const [id, [value, text]] of Object.entries(numbers)) setNumber(id, value, text);
}

onChange(showSpace);

