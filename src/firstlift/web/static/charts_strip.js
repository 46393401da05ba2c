// The whole recording in a narrow strip, with its pulls and the window that is looked at.

import { AXIS_WIDTH, toneOf } from "./charts_panel.js";
import { make } from "./charts_parts.js";

export class Strip {
  constructor(traces) {
    this.traces = traces;
    this.element = make("div", "trace-strip");
    this.element.setAttribute("aria-hidden", "true"); // buttons and keys do the same
    this.canvas = this.element.appendChild(make("canvas"));
    this.pulls = traces.about.pulls.filter((pull) => pull.start_s !== null && pull.end_s !== null);
    this.bands = this.pulls.map((pull) => this.element.appendChild(make("span", "trace-band", `${pull.number}`)));
    this.window = this.element.appendChild(make("span", "trace-window"));
    this.element.addEventListener("pointerdown", (event) => this.#go(event));
    this.element.addEventListener("pointermove", (event) => event.buttons & 1 && this.#go(event));
  }

  #go(event) {
    this.element.setPointerCapture(event.pointerId);
    const { from_s, to_s } = this.traces.about;
    const x = event.clientX - this.element.getBoundingClientRect().left - AXIS_WIDTH;
    const middle = from_s + (x / this.traces.inner) * (to_s - from_s);
    const half = 0.5 * (this.traces.view[1] - this.traces.view[0]);
    this.traces.show(middle - half, middle + half);
  }

  #x(time) {
    const { from_s, to_s } = this.traces.about;
    return AXIS_WIDTH + ((time - from_s) / (to_s - from_s || 1)) * this.traces.inner;
  }

  /** Draw the first channel, or draw it again. */
  draw(points = this.points) {
    this.points = points;
    const ratio = window.devicePixelRatio;
    const high = this.element.clientHeight;
    this.canvas.width = Math.round(this.traces.width * ratio);
    this.canvas.height = Math.round(high * ratio);
    const pen = this.canvas.getContext("2d");
    pen.scale(ratio, ratio);
    const finite = points.values.filter((value) => !Number.isNaN(value));
    const low = finite.reduce((a, b) => Math.min(a, b), Infinity);
    const span = finite.reduce((a, b) => Math.max(a, b), -Infinity) - low || 1;
    const tone = toneOf(this.traces, this.traces.about.channels[0].measures);
    pen.strokeStyle = tone.line;
    pen.lineWidth = 1;
    pen.beginPath();
    let broken = true;
    for (let i = 0; i < points.times.length; i++) {
      const value = points.values[i];
      if (Number.isNaN(value)) {
        broken = true;
        continue;
      }
      const y = high - 5 - ((value - low) / span) * (high - 10);
      if (broken) pen.moveTo(this.#x(points.times[i]), y);
      else pen.lineTo(this.#x(points.times[i]), y);
      broken = false;
    }
    pen.stroke();
    this.pulls.forEach((pull, i) => this.#lay(this.bands[i], pull.start_s, pull.end_s));
    this.place(this.traces.view);
  }

  #lay(element, start, stop) {
    element.style.left = `${this.#x(start)}px`;
    element.style.width = `${Math.max(2, this.#x(stop) - this.#x(start))}px`;
  }

  /** Show which window is looked at. */
  place(view) {
    this.#lay(this.window, ...view);
  }
}

