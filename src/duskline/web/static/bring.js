// @ts-check
/** Files brought by hand or dropped on their place, with how far they have come. */

/** @param {HTMLFormElement} form @param {string[]} lines @param {boolean} wrong */
function say(form, lines, wrong) {
  const place = form.querySelector(".said");
  if (!place) return;
  place.replaceChildren(...lines.map((line) => {
    const text = document.createElement("p");
    text.textContent = line;
    if (wrong) text.className = "wrong";
    return text;
  }));
}

/** Renew what the page says of the farm: what was still needed may be there now. */
async function renew() {
  const place = document.getElementById("state");
  if (!place) return;
  try {
    const answer = await fetch("/farm", { headers: { Accept: "text/html" } });
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById("state");
    if (fresh) place.replaceChildren(...fresh.childNodes);
  } catch { /* the page as it was; the file is taken in all the same */ }
}

/** @param {HTMLFormElement} form */
function send(form) {
  const bar = /** @type {HTMLProgressElement | null} */ (form.querySelector("progress"));
  const button = /** @type {HTMLButtonElement | null} */ (form.querySelector("button"));
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/json");
  request.upload.addEventListener("progress", (event) => {
    if (bar && event.lengthComputable) bar.value = event.loaded / event.total;
  });
  request.addEventListener("loadend", () => {
    if (bar) bar.hidden = true;
    if (button) button.disabled = false;
    /** @type {{name?: string, summary?: string, problems?: string[], notes?: string[]}} */
    let found = {};
    try { found = JSON.parse(request.responseText); } catch { found = {}; }
    if (request.status === 200) {
      say(form, [`${found.name ?? ""}: ${found.summary ?? ""}`, ...(found.notes ?? [])], false);
      form.reset();
      void renew();
    } else {
      say(form, found.problems ?? [request.responseText || "No answer from the farm's machine."], true);
    }
  });
  if (bar) { bar.hidden = false; bar.value = 0; }
  if (button) button.disabled = true;
  request.send(new FormData(form));
}

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-bring]"))) {
  const input = /** @type {HTMLInputElement | null} */ (form.querySelector('input[type="file"]'));
  form.addEventListener("submit", (event) => { event.preventDefault(); send(form); });
  for (const name of ["dragenter", "dragover"]) {
    form.addEventListener(name, (event) => { event.preventDefault(); form.classList.add("over"); });
  }
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    const files = /** @type {DragEvent} */ (event).dataTransfer?.files;
    if (!input || !files || files.length === 0) return;
    input.files = files;
    send(form);
  });
}
