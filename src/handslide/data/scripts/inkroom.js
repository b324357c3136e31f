// Where in engraved music something can be written that touches nothing drawn there.
//
// Lengths are those of the engraving, hundredths of a millimetre, in the coordinates of a system.

const CLEAR = 35; // left free on every side
const LONG = 400; // what is longer is looked at piece by piece: a slur's box is mostly empty
const PIECE = 100;
const STEP = 40;
const CAPITAL = 0.75; // of a face's size, at most
const MOST = 1400; // further down it would seem to belong to something else
const INK = "use, path, polygon, polyline, rect, ellipse, text";
const NO_INK = ".hit, .heard, .under, .looked-to, .lock-line, g.staff > path, defs *";

/** @typedef {{ x: number, y: number, width: number, height: number }} Box */
/**
 * `below`: of the next system.
 * @typedef {{ left: number, top: number, right: number, bottom: number, below?: boolean }} Edges
 */

/** @type {WeakMap<Element, Edges[]>} */
const known = new WeakMap();

/**
 * The ink of a system and of the one below it, as boxes; it is looked at once.
 * @param {SVGGraphicsElement} system
 * @returns {Edges[]}
 */
function inkOf(system) {
  const found = known.get(system);
  if (found) return found;
  const systems = [...(system.ownerSVGElement?.querySelectorAll("g.system") ?? [])];
  const home = system.getScreenCTM()?.inverse();
  /** @type {Edges[]} */
  const ink = [];
  if (!home) return ink;
  const at = systems.indexOf(system);
  for (const one of systems.slice(at, at + 2)) {
    /** @type {NodeListOf<SVGGraphicsElement>} */
    const shapes = one.querySelectorAll(INK);
    for (const shape of shapes) {
      const own = shape.matches(NO_INK) ? null : shape.getScreenCTM();
      const boxes = own ? boxesOf(shape, home.multiply(own)) : [];
      ink.push(...boxes.map((box) => ({ ...box, below: one !== system })));
    }
  }
  known.set(system, ink);
  return ink;
}

/**
 * @param {SVGGraphicsElement} shape
 * @param {DOMMatrix} way to the system's coordinates
 * @returns {Edges[]}
 */
function boxesOf(shape, way) {
  const box = shape instanceof SVGTextElement ? letters(shape) : shape.getBBox();
  // An opening or closing pair of lines has nothing in it, but is one thing.
  const whole = shape instanceof SVGPolylineElement || !(shape instanceof SVGGeometryElement);
  if (whole || box.width < LONG) return [edgesOf(box, way)];
  const length = shape.getTotalLength();
  const count = Math.ceil(length / PIECE);
  const points = Array.from({ length: count + 1 }, (_, k) => shape.getPointAtLength((length * k) / count));
  return points.slice(1).map((point, k) => {
    const { x, y } = points[k];
    return edgesOf(
      { x: Math.min(x, point.x), y: Math.min(y, point.y), width: Math.abs(x - point.x), height: Math.abs(y - point.y) },
      way,
    );
  });
}

/**
 * What letters cover: the box of a text is as high as its faces' lines, and a music face's are very
 * high.
 * @param {SVGTextElement} text
 * @returns {Box}
 */
export function letters(text) {
  const { x, width } = text.getBBox();
  const parts = [text, ...text.querySelectorAll("tspan")].filter((part) => part.lastChild?.nodeType === Node.TEXT_NODE);
  const size = Math.max(0, ...parts.map((part) => parseFloat(getComputedStyle(part).fontSize)));
  const line = text.getNumberOfChars() ? text.getStartPositionOfChar(0).y : 0;
  const deep = /^[\d◀▶.½]*$/.test(text.textContent ?? "") ? 0.02 : 0.25;
  return { x, y: line - CAPITAL * size, width, height: (CAPITAL + deep) * size };
}

/**
 * @param {Box} box
 * @param {DOMMatrix} [way]
 * @returns {Edges}
 */
function edgesOf({ x, y, width, height }, way = new DOMMatrix()) {
  // An SVGMatrix, as a shape gives it, cannot move a point itself.
  const [one, other] = [[x, y], [x + width, y + height]].map(([x, y]) => new DOMPoint(x, y).matrixTransform(way));
  return {
    left: Math.min(one.x, other.x), top: Math.min(one.y, other.y),
    right: Math.max(one.x, other.x), bottom: Math.max(one.y, other.y),
  };
}

/**
 * How far down a box must go until it touches neither ink nor what else is there; null where all is
 * full.
 * @param {SVGGraphicsElement} system
 * @param {Box} box
 * @param {Box[]} others
 */
export function roomBelow(system, box, others) {
  const taken = [...inkOf(system), ...others.map((one) => edgesOf(one))];
  const left = box.x - CLEAR;
  const right = box.x + box.width + CLEAR;
  const column = taken.filter((one) => one.right > left && one.left < right);
  // Under ink of the next system it would belong to that.
  const end = Math.min(Infinity, ...column.filter((one) => one.below).map((one) => one.top));
  for (let down = 0; down <= MOST; down += STEP) {
    const top = box.y + down - CLEAR;
    const bottom = box.y + box.height + down + CLEAR;
    if (bottom > end) return null;
    if (!column.some((one) => one.bottom > top && one.top < bottom)) return down;
  }
  return null;
}

/**
 * Lets a piece of the music reach as far down as what was written in it.
 * @param {SVGGraphicsElement} drawn
 */
export function reachDown(drawn) {
  const svg = drawn.ownerSVGElement;
  const [own, home] = [drawn.getScreenCTM(), svg?.getScreenCTM()];
  if (!svg || !own || !home) return;
  const { x, y, width, height } = svg.viewBox.baseVal;
  const { bottom } = edgesOf(drawn.getBBox(), home.inverse().multiply(own));
  const wanted = Math.ceil(bottom + CLEAR - y);
  if (wanted > height) svg.setAttribute("viewBox", `${x} ${y} ${width} ${wanted}`);
}
