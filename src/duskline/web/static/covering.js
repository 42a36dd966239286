// @ts-check
/** The map of a field is worked out when somebody opens its part of the page. */

document.addEventListener("toggle", (event) => {
  const opened = event.target;
  if (!(opened instanceof HTMLDetailsElement) || !opened.open) return;
  const address = opened.dataset["open"];
  const place = opened.querySelector("div");
  if (!address || !place) return;
  opened.removeAttribute("data-open");
  void fill(opened, place, address);
}, true);

/**
 * @param {HTMLDetailsElement} opened
 * @param {HTMLElement} place
 * @param {string} address
 */
async function fill(opened, place, address) {
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(address, { headers: { Accept: "text/html" } });
    const html = new DOMParser().parseFromString(await answer.text(), "text/html");
    place.replaceChildren(...html.body.childNodes);
  } catch {
    opened.dataset["open"] = address;
    opened.open = false;
  }
  place.removeAttribute("aria-busy");
}
