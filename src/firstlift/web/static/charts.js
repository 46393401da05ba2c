// <firstlift-traces src="/traces/ID" replay="/replay/ID" data-words='{...}'>: all channels of a test on one time axis.
//
// Whatever the mouse or a finger does here, a key and a button do too. The stack of traces is a slider for a screen
// reader: its value is the cursor's time, its text what every channel reads there. The table below says the same.

import { extent, Growing, nearest, readFrame } from "./charts_frame.js";
import { AXIS_WIDTH, Panel, RIGHT_EDGE } from "./charts_panel.js";
import { buildBar, buildKeys, buildTable, make } from "./charts_parts.js";
import { Strip } from "./charts_strip.js";
import { fill, Numbers, WORDS } from "./charts_words.js";

const LIVE_SECONDS = 10;
const LIVE_POINTS = 6000;
const CLOSER = 2;
const DRAG_PIXELS = 6;
const SOON_MS = 250;
// an answer that comes sooner than this is waited for: drawing old points first would only hold it up
const PROMPT_MS = 60;

class Traces extends HTMLElement {
  async connectedCallback() {
    if (this.opened) return;
    this.opened = true;
    this.words = { ...WORDS, ...JSON.parse(this.dataset.words || "{}") };
    this.numbers = new Numbers(document.documentElement.lang);
    this.draws = 0;
    await this.#open();
  }

  disconnectedCallback() {
    this.pause();
    this.watching?.disconnect();
    this.dressing?.disconnect();
  }

  async #open() {
    this.replaceChildren(make("p", "trace-note", this.words.loading));
    try {
      this.about = await (await this.#ask("/about")).json();
      this.#build();
      await this.#load();
      this.strip.draw(this.panels[0].points);
      this.at = this.#lifts()[0]?.at_s ?? this.about.from_s;
      this.#moved();
    } catch (error) {
      this.#failed(error);
    }
  }

  /** Ask the app; where it refuses, its own words are the error's: the detail, and what is said in the page's language. */
  async #ask(more) {
    const answer = await fetch(this.getAttribute("src") + more);
    if (answer.redirected) throw new Error(this.words.signedOut);
    if (answer.ok) return answer;
    const { problems } = await answer.json().catch(() => ({}));
    const detail = problems ? [problems[0].what, problems[0].next].filter(Boolean).join(". ") : String(answer.status);
    throw Object.assign(new Error(detail), { said: problems?.[0].said });
  }

  #failed(error) {
    const again = make("button", "trace-button", this.words.again);
    again.type = "button";
    again.addEventListener("click", () => this.#open());
    const what = error.said ? error.said.replace(/[.。]$/u, "") : error.message;
    const said = make("p", "trace-note", `${fill(this.words.failed, { what })} `);
    said.setAttribute("role", "alert");
    if (error.said) {
      const detail = Object.assign(make("small", "", error.message), { lang: "en", dir: "ltr" });
      said.append(detail);
    }
    said.append(again);
    this.replaceChildren(said);
  }

  #build() {
    const { about, words, numbers } = this;
    this.view = [about.from_s, about.to_s];
    this.mark = null;
    this.names = about.channels.map((each) => {
      const alike = about.channels.filter((other) => other.measures === each.measures).length > 1;
      return alike ? `${words[each.measures]} (${each.label})` : words[each.measures];
    });
    this.bar = buildBar(this);
    this.strip = new Strip(this);
    this.stack = make("div", "trace-stack");
    this.panels = about.channels.map((channel) => new Panel(this.stack, channel, words, numbers));
    this.panels.forEach((panel, i) => (panel.name.firstChild.textContent = this.names[i]));
    this.#buildOver();
    this.said = make("p", "trace-said");
    this.said.setAttribute("role", "status");
    this.table = buildTable(this);
    this.replaceChildren(this.bar.element, this.strip.element, this.stack, this.said, this.table.element, buildKeys(words));
    this.#listen();
    this.#size();
  }

  #buildOver() {
    this.over = make("div", "trace-over");
    this.joint = this.#lifts().map((pull) => this.over.appendChild(make("span", "trace-joint", "")));
    this.selection = this.over.appendChild(make("span", "trace-selection"));
    this.markLine = this.over.appendChild(make("span", "trace-mark"));
    this.cursorLine = this.over.appendChild(make("span", "trace-cursor"));
    this.cursorText = this.cursorLine.appendChild(make("span", "trace-cursor-text"));
    this.stack.append(this.over);
    const slider = { role: "slider", tabindex: 0, "aria-label": this.words.cursor, "aria-orientation": "horizontal" };
    for (const [name, value] of Object.entries(slider)) this.stack.setAttribute(name, value);
    this.stack.setAttribute("aria-valuemin", this.about.from_s);
    this.stack.setAttribute("aria-valuemax", this.about.to_s);
    this.stack.setAttribute("aria-valuenow", this.about.from_s);
  }

  #listen() {
    this.stack.addEventListener("keydown", (event) => this.#key(event));
    this.stack.addEventListener("pointerdown", (event) => this.#press(event));
    this.stack.addEventListener("pointermove", (event) => this.#hover(event));
    this.stack.addEventListener("pointerup", (event) => this.#release(event));
    this.stack.addEventListener("pointercancel", () => this.#drop());
    this.stack.addEventListener("dblclick", () => this.whole());
    this.stack.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    this.watching?.disconnect();
    this.watching = new ResizeObserver(() => this.stack.clientWidth !== this.width && this.#size());
    this.watching.observe(this.stack);
    this.dressing?.disconnect();
    this.dressing = new MutationObserver(() => this.#size());
    this.dressing.observe(document.documentElement, { attributes: true, attributeFilter: ["data-look", "class"] });
    for (const query of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)"]) {
      matchMedia(query).addEventListener("change", () => this.isConnected && this.#size());
    }
  }

  get shownPanels() {
    return this.panels.filter((panel) => !panel.element.hidden);
  }

  /** Lay the panels out for today's width and look; all are made anew. */
  #size() {
    this.width = this.stack.clientWidth;
    const panels = this.shownPanels;
    const high = Math.floor((0.56 * window.innerHeight) / Math.max(1, panels.length));
    for (const panel of panels) {
      panel.build(this.width, Math.max(84, Math.min(200, high)), panel === panels[panels.length - 1]);
    }
    this.#draw();
    if (this.strip.points) this.strip.draw();
    if (!this.replaying && this.frame) this.#load();
  }

  get inner() {
    return Math.max(1, this.width - AXIS_WIDTH - RIGHT_EDGE);
  }

  #lifts() {
    return this.about.pulls.filter((pull) => pull.first_lift_s !== null).map((pull) => ({ ...pull, at_s: pull.first_lift_s }));
  }

  // --- windows -------------------------------------------------------------------------------------------------

  /** Show a window of time; it is kept within the recording, and no shorter than a few samples. */
  show(start, stop) {
    this.pause();
    this.resume = null;
    const { from_s, to_s, channels } = this.about;
    const fastest = Math.max(...channels.map((channel) => channel.rate_hz ?? 0), 1);
    const whole = to_s - from_s;
    const span = Math.min(whole, Math.max(stop - start, 6 / fastest));
    const middle = 0.5 * (start + stop);
    const low = Math.min(Math.max(from_s, middle - 0.5 * span), to_s - span);
    this.view = whole > 0 ? [low, low + span] : [from_s, from_s + 1];
    clearTimeout(this.meanwhile);
    this.meanwhile = setTimeout(() => this.#draw(), PROMPT_MS);
    return this.#load();
  }

  whole() {
    return this.show(this.about.from_s, this.about.to_s);
  }

  /** Zoom about the cursor where it is in view, else about the middle. */
  zoom(factor) {
    const [start, stop] = this.view;
    const about = this.at >= start && this.at <= stop ? this.at : 0.5 * (start + stop);
    return this.show(about - (about - start) / factor, about + (stop - about) / factor);
  }

  closer() {
    return this.zoom(CLOSER);
  }

  wider() {
    return this.zoom(1 / CLOSER);
  }

  /** Move by a share of the window. */
  pan(share) {
    const by = share * (this.view[1] - this.view[0]);
    return this.show(this.view[0] + by, this.view[1] + by);
  }

  toPull(pull) {
    const start = pull.start_s ?? pull.first_lift_s;
    const stop = Math.max(pull.end_s ?? start, pull.closure_s ?? start, start + 0.1);
    if (pull.first_lift_s !== null) this.at = pull.first_lift_s;
    const air = 0.06 * (stop - start);
    return this.show(start - air, stop + air);
  }

  /** Go to the next first lift after the cursor, or to the one before it; round and round. */
  toLift(back = false) {
    const lifts = this.#lifts();
    if (!lifts.length) return;
    const after = lifts.find((lift) => lift.at_s > this.at + 1e-9) ?? lifts[0];
    const before = lifts.findLast((lift) => lift.at_s < this.at - 1e-9) ?? lifts[lifts.length - 1];
    const lift = back ? before : after;
    this.at = lift.at_s;
    const span = Math.min(this.view[1] - this.view[0], Math.max(2, 60 * lift.u_s));
    this.show(this.at - 0.5 * span, this.at + 0.5 * span);
    this.#moved();
  }

  /** Ask for the window; while one is on its way the latest waits, so that none is asked for in vain. */
  async #load() {
    this.wanted = true;
    if (this.busy) return this.busy;
    this.busy = this.#answer();
    try {
      await this.busy;
    } catch (error) {
      this.#failed(error);
    } finally {
      this.busy = null;
    }
  }

  async #answer() {
    while (this.wanted) {
      this.wanted = false;
      const began = performance.now();
      const px = Math.round(this.inner * Math.min(2, window.devicePixelRatio));
      const answer = await this.#ask(`?from_s=${this.view[0]}&to_s=${this.view[1]}&px=${px}`);
      const frame = readFrame(await answer.arrayBuffer());
      if (this.replaying) return;
      this.frame = frame;
      this.panels.forEach((panel, i) => (panel.points = this.frame.channels[i]));
      this.#draw(true);
      this.#moved();
      this.dispatchEvent(new CustomEvent("traces:drawn", { detail: { ms: performance.now() - began }, bubbles: true }));
    }
  }

  #draw(anew = false) {
    clearTimeout(this.meanwhile);
    const panels = this.shownPanels;
    for (const panel of panels) panel.draw(this.view, anew ? panel.points : null);
    this.strip.place(this.view);
    this.#place();
    if (!this.replaying) this.#sayWindow();
  }

  #sayWindow() {
    const { words, numbers, view } = this;
    const stretch = Math.max(1, ...this.shownPanels.map((panel) => panel.points.stretch));
    const told = stretch > 1 ? fill(words.thinned, { n: stretch }) : words.every;
    this.said.textContent = `${words.from} ${numbers.time(view[0], view)} ${words.to} ${numbers.time(view[1], view)} s: ${told}.`;
  }

  // --- cursor and mark -----------------------------------------------------------------------------------------

  #x(time) {
    return ((time - this.view[0]) / (this.view[1] - this.view[0])) * this.inner;
  }

  #put(element, time) {
    const x = time === null || time === undefined ? -1 : this.#x(time);
    element.hidden = x < 0 || x > this.inner + 0.5;
    element.style.left = `${x}px`;
    return x;
  }

  #place() {
    const x = this.#put(this.cursorLine, this.at);
    this.cursorLine.classList.toggle("turned", x > this.inner - 120);
    if (this.at !== undefined) this.cursorText.textContent = `${this.numbers.time(this.at, this.view)} s`;
    this.#put(this.markLine, this.mark);
    this.#lifts().forEach((lift, i) => this.#put(this.joint[i], lift.at_s));
  }

  /** The cursor stands elsewhere: show it, and say what every channel reads there. */
  #moved() {
    this.#place();
    const read = this.panels.map((panel) => this.#read(panel, this.at));
    const marked = this.mark === null ? null : this.panels.map((panel) => this.#read(panel, this.mark));
    this.table.fill(read, marked, this.panels.map((panel) => extent(panel.points, ...this.view)));
    this.stack.setAttribute("aria-valuenow", this.at);
    const said = this.panels.filter((panel) => !panel.element.hidden).map((panel) => this.#said(panel, read));
    this.stack.setAttribute("aria-valuetext", `${this.numbers.time(this.at, this.view)} s. ${said.join(this.words.between)}`);
  }

  #said(panel, read) {
    const i = this.panels.indexOf(panel);
    const value = read[i] === null ? this.words.gap : `${this.numbers.value(read[i])} ${panel.channel.unit}`;
    return `${this.names[i]} ${value}`;
  }

  #read(panel, at) {
    const i = nearest(panel.points.times, at);
    const value = i < 0 ? NaN : panel.points.values[i];
    return Number.isNaN(value) ? null : value;
  }

  /** Move the cursor by points of the channel that has most of them in view. */
  step(by) {
    const dense = this.shownPanels.reduce((a, b) => (b.points.times.length > a.points.times.length ? b : a));
    const { times } = dense.points;
    const here = nearest(times, this.at);
    const next = Math.min(times.length - 1, Math.max(0, here + by));
    this.at = Math.min(Math.max(times[next], this.about.from_s), this.about.to_s);
    const [start, stop] = this.view;
    if (this.at < start || this.at > stop) this.show(this.at - 0.5 * (stop - start), this.at + 0.5 * (stop - start));
    this.#moved();
  }

  setMark() {
    this.mark = this.at;
    this.#moved();
    this.said.textContent = fill(this.words.markSet, { t: this.numbers.time(this.at, this.view) });
  }

  clearMark() {
    this.mark = null;
    this.#moved();
  }

  #key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const many = event.shiftKey ? 10 : 1;
    const does = {
      ArrowRight: () => this.step(many),
      ArrowLeft: () => this.step(-many),
      Home: () => this.#to(this.view[0]),
      End: () => this.#to(this.view[1]),
      PageUp: () => this.pan(-0.5),
      PageDown: () => this.pan(0.5),
      "+": () => this.closer(),
      "=": () => this.closer(),
      "-": () => this.wider(),
      0: () => this.whole(),
      l: () => this.toLift(),
      L: () => this.toLift(true),
      m: () => this.setMark(),
      Escape: () => this.clearMark(),
    }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  }

  #to(time) {
    this.at = time;
    this.#moved();
  }

  // --- mouse, pen and finger -----------------------------------------------------------------------------------

  #timeAt(event) {
    const x = event.clientX - this.stack.getBoundingClientRect().left - AXIS_WIDTH;
    const share = Math.min(1, Math.max(0, x / this.inner));
    return this.view[0] + share * (this.view[1] - this.view[0]);
  }

  #press(event) {
    if (event.button !== 0 || this.replaying) return;
    this.pressed = { x: event.clientX, time: this.#timeAt(event), drags: false };
    this.stack.setPointerCapture(event.pointerId);
    this.#to(this.pressed.time);
  }

  #hover(event) {
    if (this.replaying) return;
    const { pressed } = this;
    if (pressed && Math.abs(event.clientX - pressed.x) > DRAG_PIXELS) pressed.drags = true;
    if (pressed?.drags) {
      const [low, high] = [pressed.time, this.#timeAt(event)].sort((a, b) => a - b).map((time) => this.#x(time));
      this.selection.style.left = `${low}px`;
      this.selection.style.width = `${high - low}px`;
      this.selection.classList.add("drawn");
    }
    if (pressed || event.pointerType === "mouse") this.#to(this.#timeAt(event));
  }

  #release(event) {
    const { pressed } = this;
    this.#drop();
    if (!pressed?.drags) return;
    const [low, high] = [pressed.time, this.#timeAt(event)].sort((a, b) => a - b);
    if (high > low) this.show(low, high);
  }

  #drop() {
    this.pressed = null;
    this.selection.classList.remove("drawn");
  }

  #wheel(event) {
    if (!event.ctrlKey) return; // the wheel alone scrolls the page
    event.preventDefault();
    this.#to(this.#timeAt(event));
    this.zoom(Math.exp(-0.004 * event.deltaY));
  }

  // --- replay --------------------------------------------------------------------------------------------------

  get replaying() {
    return Boolean(this.socket);
  }

  togglePlay() {
    if (this.replaying) this.pause();
    else this.play();
  }

  /** Play the recording at its own speed, from where it was paused, or from the window's beginning. */
  play() {
    const from = this.resume ?? this.view[0];
    const start = from >= this.about.to_s ? this.about.from_s : from;
    const place = new URL(`${this.getAttribute("replay")}?from_s=${start}&points=${LIVE_POINTS}`, location.href);
    place.protocol = place.protocol === "https:" ? "wss:" : "ws:";
    this.growing = this.panels.map(() => new Growing(LIVE_POINTS + 600));
    this.panels.forEach((panel, i) => (panel.points = this.growing[i]));
    this.live = { start, stop: start, number: 0, dirty: false, said: 0 };
    const socket = new WebSocket(place);
    socket.binaryType = "arraybuffer";
    socket.addEventListener("message", (event) => socket === this.socket && this.#grow(readFrame(event.data)));
    socket.addEventListener("close", () => socket === this.socket && this.#ended());
    this.socket = socket;
    this.bar.playing(true);
    this.#tick(socket);
  }

  pause() {
    if (!this.replaying) return null;
    const { socket, live } = this;
    this.socket = null;
    socket.close();
    this.bar.playing(false);
    this.resume = live.stop;
    this.at = live.stop;
    this.panels.forEach((panel) => (panel.points = { times: panel.points.times.slice(), values: panel.points.values.slice(), stretch: 1 }));
    this.said.removeAttribute("aria-live");
    return this.isConnected ? this.#load() : null;
  }

  async #ended() {
    const whole = this.live.stop >= this.about.to_s - 1e-9;
    await this.pause();
    this.resume = null;
    this.said.textContent = whole ? this.words.ended : this.words.lost;
  }

  #grow(frame) {
    const { live } = this;
    // frames that a full queue dropped leave a gap: it is drawn as one
    if (live.number && frame.number !== live.number + 1) this.growing.forEach((each) => each.breakAt(frame.start));
    frame.channels.forEach((channel, i) => this.growing[i].add(channel.times, channel.values));
    live.number = frame.number;
    live.stop = frame.stop;
    live.dirty = true;
  }

  /** Draw at most once per frame of the screen, and only what is new; the table follows four times a second. */
  #tick(socket) {
    requestAnimationFrame((now) => {
      if (socket !== this.socket) return;
      const { live } = this;
      if (live.dirty) {
        live.dirty = false;
        const start = Math.max(live.start, live.stop - LIVE_SECONDS);
        this.view = [start, start + LIVE_SECONDS];
        this.growing.forEach((each) => each.forgetBefore(start));
        this.at = live.stop;
        this.#draw(true);
        this.draws += 1;
        if (now - live.said > SOON_MS) {
          live.said = now;
          this.said.setAttribute("aria-live", "off");
          this.said.textContent = fill(this.words.live, { s: this.numbers.fixed(live.stop, 1) });
          this.#moved();
        }
      }
      this.#tick(socket);
    });
  }

  /** A channel is shown or hidden by its box in the table. */
  toggle(i, shown) {
    this.panels[i].element.hidden = !shown;
    this.#size();
    this.#moved();
  }
}

customElements.define("firstlift-traces", Traces);
