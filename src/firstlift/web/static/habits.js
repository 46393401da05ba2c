// Habits of every page: what is typed is kept until it is sent, help opens over the page, long work shows how far it is.
//
// Nothing here is needed to work: without it forms are sent as they are, and help is a page of its own.

const WAIT_MS = 400;
const AGAIN_MS = 3000;
const SOON_MS = 300;
const LONGEST_MS = 60000;
const token = JSON.parse(document.body.getAttribute("hx-headers") || "{}")["x-csrf"];
const words = document.body.dataset;

// --- drafts --------------------------------------------------------------------------------------------------------

/** The fields of a form that somebody fills: no secrets, no files, nothing that the page itself put there. */
function filled(form) {
  const kinds = ["hidden", "password", "file", "submit", "button", "reset"];
  return [...form.elements].filter((each) => each.name && !kinds.includes(each.type) && !["BUTTON", "FIELDSET"].includes(each.tagName));
}

const ticks = (field) => field.type === "checkbox" || field.type === "radio";

function valuesOf(form) {
  const values = {};
  for (const field of filled(form)) {
    values[field.name] ??= [];
    if (!ticks(field) || field.checked) values[field.name].push(field.value);
  }
  return values;
}

/** Put values back; a choice or a field that the page no longer has is left out. */
function fillIn(form, values) {
  const left = structuredClone(values);
  for (const field of filled(form)) {
    const own = left[field.name];
    if (!own) continue;
    if (ticks(field)) field.checked = own.includes(field.value);
    else if (own.length) field.value = own.shift();
  }
  form.querySelectorAll("select").forEach((select) => select.selectedIndex < 0 && select.options.length && (select.selectedIndex = 0));
}

class Draft {
  constructor(form) {
    this.form = form;
    // a form that asks and one that keeps may have the same address: what the one got answered is not the other's
    const which = form.dataset.draft || (form.method === "get" ? "asks" : "");
    this.name = [location.pathname, form.getAttribute("action") || "", which].join("|");
    this.asMade = valuesOf(form);
    this.said = null;
    form.addEventListener("input", () => this.later());
    form.addEventListener("change", () => this.later());
    form.addEventListener("submit", () => this.sent());
  }

  static suits(form) {
    const kept = filled(form).some((field) => !ticks(field) && field.tagName !== "SELECT") || filled(form).length > 2;
    return form.dataset.draft !== "off" && !form.matches(".filter") && kept && !form.querySelector("[type=password]");
  }

  get changed() {
    return JSON.stringify(valuesOf(this.form)) !== JSON.stringify(this.asMade);
  }

  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.keep(), WAIT_MS);
  }

  async keep() {
    clearTimeout(this.timer);
    this.timer = null;
    if (!this.changed) return this.drop();
    const answer = await this.#tell("/drafts", { form: this.name, fields: JSON.stringify(valuesOf(this.form)) });
    // the app is away for a moment: what is typed waits on the page, and is kept once it is back
    if (answer === null) this.timer = setTimeout(() => this.keep(), AGAIN_MS);
    return null;
  }

  drop() {
    return this.#tell("/drafts/drop", { form: this.name });
  }

  #tell(where, what) {
    const told = { method: "POST", body: new URLSearchParams(what), headers: { "x-csrf": token }, keepalive: true };
    return fetch(where, told).catch(() => null);
  }

  /** The app forgets a draft once it has done what the form asked; if it refuses or is away, the draft stays. */
  sent() {
    if (this.timer) this.keep();
    sessionStorage.setItem(this.name, "sent");
    if (this.form.method !== "post" || this.form.elements.draft) return;
    this.form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "draft", value: this.name }));
  }

  /** Put a draft back, and say so; what the page's address holds comes first. */
  restore({ at, fields }) {
    const asked = new URLSearchParams(location.search);
    if (Object.keys(this.asMade).some((name) => asked.has(name))) return;
    if (JSON.stringify(fields) === JSON.stringify(this.asMade)) return;
    fillIn(this.form, fields);
    if (!this.changed) return;
    for (let around = this.form.closest("details"); around; around = around.parentElement.closest("details")) around.open = true;
    this.say(new Date(at));
  }

  say(at) {
    const { lang } = document.documentElement;
    // English pages write dates as ISO does, as Swedish has it
    const shown = at.toLocaleString(lang === "en" ? "sv" : lang, { dateStyle: "short", timeStyle: "short" });
    this.said = Object.assign(document.createElement("div"), { className: "note kept no-print" });
    this.said.setAttribute("role", "status");
    const text = Object.assign(document.createElement("span"), { textContent: words.kept.replace("{at}", shown) });
    const afresh = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: words.afresh });
    afresh.addEventListener("click", () => this.afresh());
    this.said.append(text, " ", afresh);
    this.form.prepend(this.said);
  }

  afresh() {
    fillIn(this.form, this.asMade);
    this.said.remove();
    this.keep();
    filled(this.form)[0]?.focus();
  }
}

/** An address that holds what a form asked for, and was answered, is as good as the form sent. */
function answered(draft) {
  const asked = new URLSearchParams(location.search);
  const refused = document.querySelector("main .problems, main .refusal[role=alert]");
  // a form that is only looked at first keeps its draft until what it asks for was done
  if (draft.form.dataset.draftUntil) return false;
  return draft.form.method === "get" && !refused && Object.keys(draft.asMade).some((name) => asked.get(name));
}

async function draftsOfPage() {
  const drafts = [...document.querySelectorAll("main form")].filter(Draft.suits).map((form) => new Draft(form));
  if (!drafts.length) return;
  for (const draft of drafts.filter(answered)) draft.drop();
  // what was sent a moment ago is being forgotten just now
  const moment = drafts.some((draft) => sessionStorage.getItem(draft.name)) ? SOON_MS : 0;
  drafts.forEach((draft) => sessionStorage.removeItem(draft.name));
  await new Promise((done) => setTimeout(done, moment));
  const answer = await fetch(`/drafts?path=${encodeURIComponent(location.pathname)}`).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const kept = await answer.json();
  for (const draft of drafts) {
    if (kept[draft.name] && !draft.changed) draft.restore(kept[draft.name]);
  }
  window.addEventListener("pagehide", () => drafts.forEach((draft) => draft.timer && draft.keep()));
}

// --- files on their way --------------------------------------------------------------------------------------------

/** Send a form of files by hand, so that one sees how far it is and can call it back. */
function send(form) {
  const asked = new XMLHttpRequest();
  const body = new FormData(form);
  const shown = Object.assign(document.createElement("div"), { className: "note" });
  const text = Object.assign(document.createElement("p"), { textContent: words.sending });
  text.setAttribute("role", "status");
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", words.sending);
  const back = Object.assign(document.createElement("button"), { type: "button", className: "grave", textContent: words.callBack });
  back.addEventListener("click", () => asked.abort());
  shown.append(text, bar, back);
  form.append(shown);
  const held = [...form.elements].filter((each) => each !== back);
  held.forEach((each) => (each.disabled = true));
  const over = () => {
    held.forEach((each) => (each.disabled = false));
    shown.remove();
  };
  asked.upload.addEventListener("progress", ({ loaded, total }) => {
    bar.max = total;
    bar.value = loaded;
    if (loaded === total) text.textContent = words.reading;
  });
  asked.addEventListener("abort", over);
  asked.addEventListener("error", () => {
    over();
    form.submit(); // the browser says itself what is wrong with the way
  });
  asked.addEventListener("load", () => {
    if (asked.status < 400) {
      leaving();
      return location.assign(asked.responseURL);
    }
    over();
    const page = new DOMParser().parseFromString(asked.responseText, "text/html");
    const main = page.querySelector("main");
    if (!main) return form.submit();
    document.querySelector("main").replaceWith(main);
    document.title = page.title;
    (main.querySelector("[autofocus]") ?? main).focus();
    return null;
  });
  asked.open(form.method, form.action);
  asked.send(body);
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-upload]") || event.defaultPrevented) return;
  event.preventDefault();
  send(event.target);
});

// --- one press is one deed ------------------------------------------------------------------------------------------

document.addEventListener("submit", (event) => {
  const { target: form, submitter, defaultPrevented } = event;
  if (defaultPrevented || form.method !== "post" || !submitter) return;
  if (form.dataset.busy) return event.preventDefault(); // a second press while the first is being worked off
  form.dataset.busy = "yes";
  submitter.setAttribute("aria-busy", "true");
  setTimeout(idle, LONGEST_MS);
  return null;
});

// back again, or no page came: it may be pressed anew
window.addEventListener("pageshow", idle);
window.addEventListener("focus", idle);

function idle() {
  for (const form of document.querySelectorAll("form[data-busy]")) delete form.dataset.busy;
  for (const button of document.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
}

// --- where the keyboard goes on after a deed ------------------------------------------------------------------------
//
// A form that was sent by a key brings another page, or the same one anew. What was refused has the focus by itself;
// else the keyboard goes on at the part that the address names, at what the page says is new, or at its heading,
// and not before all the places again. Whoever points finds the way by eye.

const LANDS = "firstlift-lands";
let byKey = false;
for (const kind of ["keydown", "pointerdown"]) addEventListener(kind, (event) => (byKey = event.type === "keydown"), true);

function leaving() {
  if (byKey) sessionStorage.setItem(LANDS, "yes");
}

document.addEventListener("submit", (event) => event.defaultPrevented || leaving());

/** Give the focus to what does not take it by itself, a heading or a row. */
function focusOn(element) {
  if (element.tabIndex < 0 && !element.hasAttribute("tabindex")) element.tabIndex = -1;
  element.focus();
}

function land() {
  const sent = sessionStorage.getItem(LANDS);
  sessionStorage.removeItem(LANDS);
  if (!sent || document.activeElement !== document.body) return;
  // where the address names a part, a browser passes over what would take the focus by itself
  const named = location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null;
  const part = named ?? document.querySelector("main [autofocus]") ?? document.querySelector("main [data-lands]") ?? document.querySelector("main h1");
  if (part) focusOn(part);
}

land();

// a part that renewed itself took what had the focus away
let held = false;
document.addEventListener("htmx:beforeSwap", ({ target }) => (held = target.contains(document.activeElement)));
document.addEventListener("htmx:afterSettle", () => {
  if (held && document.activeElement === document.body) focusOn(document.querySelector("main h1"));
  held = false;
});

// a table that fits its place is no stop of the Tab key; one that is wider is scrolled with the arrow keys
function stops() {
  for (const part of document.querySelectorAll(".scroll")) {
    const fits = part.scrollWidth <= part.clientWidth + 1;
    if (part !== document.activeElement) part.toggleAttribute("tabindex", !fits);
    if (!fits) part.tabIndex = 0;
  }
}

stops();
addEventListener("resize", stops);
document.addEventListener("htmx:afterSettle", stops);
document.addEventListener("toggle", stops, true);

// --- help over the page --------------------------------------------------------------------------------------------

async function openHelp(link) {
  const answer = await fetch(link.href).catch(() => null);
  if (!answer?.ok || answer.redirected) return location.assign(link.href);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const dialog = Object.assign(document.createElement("dialog"), { className: "help" });
  dialog.setAttribute("aria-label", link.textContent.trim());
  const shut = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: words.close });
  shut.addEventListener("click", () => dialog.close());
  dialog.append(shut, ...page.querySelector("main").children);
  dialog.addEventListener("close", () => {
    dialog.remove();
    link.focus();
  });
  document.body.append(dialog);
  dialog.showModal();
  const part = link.hash && dialog.querySelector(link.hash);
  if (part) part.scrollIntoView();
  return null;
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[data-help]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || location.pathname === "/help") return;
  event.preventDefault();
  openHelp(link);
});

// --- what was opened is closed by Escape ---------------------------------------------------------------------------

document.addEventListener("keydown", (event) => {
  const open = event.key === "Escape" && event.target.closest?.("details.sure[open]");
  if (!open) return;
  open.open = false;
  open.querySelector("summary").focus();
});

if (token) draftsOfPage();
