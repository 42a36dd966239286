// @ts-check
/**
 * The map of a field, brought closer and moved by changing what part of it is shown. Buttons and
 * keys do the same as fingers. Without this file the map is a picture.
 */

const CLOSEST = 8;
const STEP = 1.6;
const MOVE = 0.2;
const TAP_PX = 6;

/** @typedef {{x: number, y: number, width: number, height: number}} View */

/** @param {HTMLElement} figure */
function makeMovable(figure) {
  const found = figure.querySelector("svg");
  if (!(found instanceof SVGSVGElement)) return;
  const svg = found;
  const box = svg.viewBox.baseVal;
  const whole = { x: box.x, y: box.y, width: box.width, height: box.height };
  /** @type {View} */
  let view = { ...whole };
  /** @type {Map<number, {x: number, y: number}>} */
  const fingers = new Map();
  let moved = 0;

  const knobs = document.createElement("div");
  knobs.className = "knobs";
  const closer = knob(figure.dataset["in"] ?? "+", () => zoom(STEP));
  const farther = knob(figure.dataset["out"] ?? "-", () => zoom(1 / STEP));
  const fit = knob(figure.dataset["fit"] ?? "0", () => show({ ...whole }));
  knobs.append(closer, farther, fit);
  figure.append(knobs);
  figure.classList.add("can");
  svg.setAttribute("tabindex", "0");
  svg.setAttribute("aria-label", figure.dataset["pan"] ?? "");
  show(view);

  /** @param {string} label @param {() => void} act */
  function knob(label, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    return button;
  }

  /** @param {View} next */
  function show(next) {
    const width = Math.min(whole.width, Math.max(whole.width / CLOSEST, next.width));
    const height = (width * whole.height) / whole.width;
    view = {
      x: Math.min(whole.x + whole.width - width, Math.max(whole.x, next.x)),
      y: Math.min(whole.y + whole.height - height, Math.max(whole.y, next.y)),
      width,
      height,
    };
    svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.width} ${view.height}`);
    const isWhole = width >= whole.width * 0.999;
    figure.classList.toggle("close", !isWhole);
    closer.setAttribute("aria-disabled", String(width <= (whole.width / CLOSEST) * 1.001));
    farther.setAttribute("aria-disabled", String(isWhole));
    fit.setAttribute("aria-disabled", String(isWhole));
  }

  /**
   * Bring the map closer round a point of it, or its middle.
   * @param {number} factor
   * @param {{x: number, y: number}} [at]
   */
  function zoom(factor, at = { x: view.x + view.width / 2, y: view.y + view.height / 2 }) {
    const width = Math.min(whole.width, Math.max(whole.width / CLOSEST, view.width / factor));
    const share = width / view.width;
    show({
      x: at.x - (at.x - view.x) * share,
      y: at.y - (at.y - view.y) * share,
      width,
      height: view.height * share,
    });
  }

  /** @param {number} x @param {number} y */
  function onMap(x, y) {
    const place = svg.getBoundingClientRect();
    return {
      x: view.x + ((x - place.left) / place.width) * view.width,
      y: view.y + ((y - place.top) / place.height) * view.height,
    };
  }

  /** @param {number} right @param {number} down in pixels of the screen */
  function drag(right, down) {
    const place = svg.getBoundingClientRect();
    show({
      ...view,
      x: view.x - (right / place.width) * view.width,
      y: view.y - (down / place.height) * view.height,
    });
  }

  svg.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    if (fingers.size === 0) moved = 0;
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (figure.classList.contains("close") || fingers.size > 1) svg.setPointerCapture(event.pointerId);
  });

  svg.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
    fingers.set(event.pointerId, now);
    moved += Math.hypot(now.x - before.x, now.y - before.y);
    if (other) {
      const middle = { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2 };
      const was = Math.hypot(before.x - other.x, before.y - other.y);
      const is = Math.hypot(now.x - other.x, now.y - other.y);
      drag((now.x - before.x) / 2, (now.y - before.y) / 2);
      if (was > 0) zoom(is / was, onMap(middle.x, middle.y));
    } else if (figure.classList.contains("close")) {
      drag(now.x - before.x, now.y - before.y);
    }
  });

  /** @param {PointerEvent} event */
  function lift(event) {
    const was = fingers.delete(event.pointerId);
    const tapped = was && event.type === "pointerup" && fingers.size === 0 && moved < TAP_PX;
    if (tapped && event.pointerType === "mouse" && !figure.classList.contains("close")) {
      zoom(STEP, onMap(event.clientX, event.clientY));
    }
  }
  svg.addEventListener("pointerup", lift);
  svg.addEventListener("pointercancel", lift);
  svg.addEventListener("pointerleave", (event) => {
    if (!svg.hasPointerCapture(event.pointerId)) fingers.delete(event.pointerId);
  });

  // Turning the wheel scrolls the page as ever; with Ctrl it is the map's.
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoom(event.deltaY < 0 ? STEP : 1 / STEP, onMap(event.clientX, event.clientY));
  }, { passive: false });

  svg.addEventListener("keydown", (event) => {
    /** @type {Record<string, () => void>} */
    const keys = {
      "+": () => zoom(STEP),
      "=": () => zoom(STEP),
      "-": () => zoom(1 / STEP),
      "0": () => show({ ...whole }),
      ArrowLeft: () => show({ ...view, x: view.x - MOVE * view.width }),
      ArrowRight: () => show({ ...view, x: view.x + MOVE * view.width }),
      ArrowUp: () => show({ ...view, y: view.y - MOVE * view.height }),
      ArrowDown: () => show({ ...view, y: view.y + MOVE * view.height }),
    };
    const act = keys[event.key];
    const arrow = event.key.startsWith("Arrow");
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    if (arrow && !figure.classList.contains("close")) return;
    event.preventDefault();
    act();
  });
}

for (const figure of document.querySelectorAll("figure.zoom")) {
  if (figure instanceof HTMLElement) makeMovable(figure);
}
