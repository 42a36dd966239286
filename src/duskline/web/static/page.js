// @ts-check
/**
 * What every page does: keeps the answers fresh, sends what happened, offers to take it back.
 * Every form works without this file; with it the page stays where it is.
 */

const UNDO_MS = 10_000;
const AGAIN_MS = 4_000;
const FRESH_MS = 30_000;

/** @param {string} name @returns {string} */
function text(name) {
  return document.body.dataset[name] ?? "";
}

/**
 * Show a short message at the foot of the page.
 * @param {string} message
 * @param {{label: string, act: () => void} | null} [offer]
 * @param {number} [forMs]
 */
function tell(message, offer = null, forMs = 6_000) {
  const place = document.getElementById("told");
  if (!place) return;
  const box = document.createElement("div");
  const words = document.createElement("span");
  words.textContent = message;
  box.append(words);
  if (offer) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = offer.label;
    button.addEventListener("click", () => { box.remove(); offer.act(); });
    box.append(button);
  }
  place.replaceChildren(box);
  window.setTimeout(() => box.remove(), forMs);
}

/**
 * Put fresh HTML of our own server into an element.
 * @param {Element} place
 * @param {string} address
 * @returns {Promise<boolean>}
 */
async function fill(place, address) {
  try {
    const answer = await fetch(address, { headers: { Accept: "text/html" } });
    if (!answer.ok) return false;
    const html = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (html.body.childElementCount === 0) return false;
    place.replaceChildren(...html.body.childNodes);
    place.dispatchEvent(new CustomEvent("filled", { bubbles: true }));
    return true;
  } catch {
    return false;
  }
}

/** Sections that the server works out after the page: asked again until they are there. */
function fetchSections() {
  for (const place of document.querySelectorAll("[data-fetch]")) {
    const address = /** @type {HTMLElement} */ (place).dataset["fetch"] ?? "";
    /** @type {HTMLElement} */ (place).removeAttribute("data-fetch");
    void (async () => {
      place.setAttribute("aria-busy", "true");
      for (let tries = 0; tries < 60; tries += 1) {
        if (await fill(place, address)) break;
        await new Promise((later) => window.setTimeout(later, 1_500));
      }
      place.removeAttribute("aria-busy");
    })();
  }
}

/** Renew the live part of the page, unless somebody is in the middle of a form. */
async function refresh(force = false) {
  const live = document.querySelector("[data-live]");
  if (!(live instanceof HTMLElement)) return;
  const busy = live.querySelector("details.act[open]") !== null;
  if (busy && !force) return;
  await fill(live, live.dataset["live"] ?? "");
}

/**
 * A tap that the farm's machine has not answered yet. It is kept in the browser under its own id,
 * so that neither a closed page nor an empty battery loses it.
 * @typedef {{id: string, tapped: number, fields: [string, string][]}} Tap
 */

const KEPT = "duskline.tap.";

/** @param {Tap} tap @returns {boolean} whether the browser keeps it */
function keep(tap) {
  try {
    localStorage.setItem(KEPT + tap.id, JSON.stringify(tap));
    return true;
  } catch {
    return false;
  }
}

/** @param {string} id */
function letGo(id) {
  try { localStorage.removeItem(KEPT + id); } catch { /* nothing was kept */ }
}

/** @returns {Tap[]} the taps without an answer, the oldest first */
function keptTaps() {
  /** @type {Tap[]} */
  const found = [];
  try {
    for (const key of Object.keys(localStorage)) {
      if (!key.startsWith(KEPT)) continue;
      try {
        const tap = /** @type {Tap} */ (JSON.parse(localStorage.getItem(key) ?? ""));
        if (typeof tap.id === "string" && Array.isArray(tap.fields)) found.push(tap);
      } catch {
        localStorage.removeItem(key);
      }
    }
  } catch { /* a browser that keeps nothing */ }
  return found.sort((one, other) => one.tapped - other.tapped);
}

/**
 * What is sent for a tap. Its moment is when it was tapped, however late it gets through.
 * @param {Tap} tap
 * @returns {FormData}
 */
function bodyOf(tap) {
  const body = new FormData();
  for (const [name, value] of tap.fields) body.append(name, value);
  const waited = Math.floor((Date.now() - tap.tapped) / 60_000);
  if (waited > 0 && !body.get("at")) {
    body.set("ago", String((Number(body.get("ago")) || 0) + waited));
  }
  body.set("id", tap.id);
  body.set("clock_at", new Date().toISOString());
  return body;
}

/** @typedef {{id?: string, what?: string, text?: string, problems?: string[]}} Said */

/**
 * Send a tap until it is answered; under its own id it is written down once, however often it is
 * sent.
 * @param {Tap} tap
 * @param {() => void} [late] called once when the first try has had no answer
 * @returns {Promise<{ok: boolean, said: Said}>}
 */
async function deliver(tap, late = () => {}) {
  for (let tries = 0; ; tries += 1) {
    /** @type {Response | null} */
    let answer = null;
    try {
      answer = await fetch("/log", {
        method: "POST",
        body: bodyOf(tap),
        headers: { Accept: "application/json" },
      });
    } catch {
      answer = null;
    }
    if (answer !== null && answer.status < 500) {
      /** @type {Said} */
      let said = { problems: [String(answer.status)] };
      try { said = await answer.json(); } catch { /* the number has to do */ }
      letGo(tap.id);
      return { ok: answer.ok, said };
    }
    if (tries === 0) late();
    // A full disk or a busy store says so itself; else nobody answered.
    /** @type {Said} */
    let why = {};
    try { why = answer === null ? {} : await answer.json(); } catch { why = {}; }
    tell((why.problems ?? []).join(" ") || text("notSent"), null, AGAIN_MS);
    await new Promise((later) => window.setTimeout(later, AGAIN_MS));
  }
}

/**
 * Send a form that tells what happened.
 * @param {HTMLFormElement} form
 * @param {HTMLElement | null} submitter
 */
async function sendEvent(form, submitter) {
  /** @type {[string, string][]} */
  const fields = [];
  for (const [name, value] of new FormData(form, submitter)) {
    if (typeof value === "string") fields.push([name, value]);
  }
  const id = crypto.randomUUID ? crypto.randomUUID() : String(Date.now()) + Math.random().toString(36).slice(2, 12);
  /** @type {Tap} */
  const tap = { id, tapped: Date.now(), fields };
  const kept = keep(tap);
  const buttons = /** @type {NodeListOf<HTMLButtonElement>} */ (form.querySelectorAll("button"));
  const free = () => buttons.forEach((one) => { one.disabled = false; });
  buttons.forEach((one) => { one.disabled = true; });
  // Once it is kept the next tap may come, long before this one gets through.
  const { ok, said } = await deliver(tap, kept ? free : undefined);
  free();
  if (!ok) {
    wrong(form, (said.problems ?? []).join(" "));
    return;
  }
  await taken(said);
}

/** Say that an event was taken in, and offer to take it back. @param {Said} said */
async function taken(said) {
  const id = said.id ?? "";
  await refresh(true);
  if (said.what === "undo") tell(text("undone"));
  else {
    tell(text("recorded").replace("{what}", said.text ?? ""), { label: text("undo"), act: () => undo(id) }, UNDO_MS);
  }
}

/** Send what was tapped before this page was opened and never answered. */
async function sendKept() {
  for (const tap of keptTaps()) {
    const { ok, said } = await deliver(tap);
    if (ok) await taken(said);
    else tell((said.problems ?? []).join(" "), null, UNDO_MS);
  }
}

/** @param {HTMLFormElement} form @param {string} message */
function wrong(form, message) {
  let place = form.querySelector(".wrong");
  if (!place) {
    place = document.createElement("p");
    place.className = "wrong";
    place.setAttribute("role", "alert");
    form.append(place);
  }
  place.textContent = message;
}

/** @param {string} id */
function undo(id) {
  const form = document.createElement("form");
  form.action = "/log";
  for (const [name, value] of [["what", "undo"], ["refers", id]]) {
    const input = document.createElement("input");
    input.type = "hidden";
    input.name = name ?? "";
    input.value = value ?? "";
    form.append(input);
  }
  void sendEvent(form, null);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.hasAttribute("data-log")) return;
  event.preventDefault();
  const pressed = /** @type {SubmitEvent} */ (event).submitter;
  void sendEvent(form, pressed instanceof HTMLElement ? pressed : null);
});

document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-print]") : null;
  if (button) window.print();
});

// One open form at a time: the others close.
document.addEventListener("toggle", (event) => {
  const opened = event.target;
  if (!(opened instanceof HTMLDetailsElement) || !opened.open || !opened.classList.contains("act")) return;
  for (const other of document.querySelectorAll("details.act[open]")) {
    if (other !== opened) other.removeAttribute("open");
  }
}, true);

fetchSections();
void sendKept();
document.addEventListener("filled", fetchSections);
if (document.querySelector("[data-live]")) {
  window.setInterval(() => { if (document.visibilityState === "visible") void refresh(); }, FRESH_MS);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") void refresh(); });
}

// On a phone the pages' names run off the side: the present one is brought into sight.
document.querySelector("nav a[aria-current]")?.scrollIntoView({ inline: "center", block: "nearest" });
