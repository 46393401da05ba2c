// One channel's panel: its line by uPlot, its name, and where it saw first lift.

import { drawable } from "./charts_frame.js";

export const AXIS_WIDTH = 74;
export const RIGHT_EDGE = 14;
const TIME_AXIS = 30;
const TOP = 8;
const DENSE = 0.6;
const ROUGH = 40;
const LABEL_WIDTH = 150;
const SPLITS_APART = 90;

const TONES = {
  pull_force: "--trace-force",
  spindle_lift: "--trace-lift",
  acoustic: "--trace-sound",
  line_pressure: "--trace-pressure",
  back_pressure: "--trace-back-pressure",
  temperature: "--trace-temperature",
};

/** The colours of today's look, as the style sheet has them. */
export function toneOf(element, measures) {
  const style = getComputedStyle(element);
  const get = (name) => style.getPropertyValue(name).trim();
  return {
    line: get(TONES[measures] ?? "--trace-force"),
    grid: get("--trace-grid"),
    text: get("--trace-text"),
    font: `13px ${style.fontFamily}`,
    width: Number(get("--trace-width")) || 1.5,
  };
}

export class Panel {
  constructor(stack, channel, words, numbers) {
    this.channel = channel;
    this.numbers = numbers;
    this.element = document.createElement("div");
    this.element.className = "trace-panel";
    this.element.dataset.measures = channel.measures;
    this.name = document.createElement("p");
    this.name.className = "trace-name";
    this.name.append(Object.assign(document.createElement("b"), { textContent: words[channel.measures] }));
    if (channel.unit) this.name.append(` ${channel.unit}`);
    this.plotted = document.createElement("div");
    this.plotted.className = "trace-plot";
    this.marks = document.createElement("div");
    this.marks.className = "trace-marks";
    this.element.append(this.name, this.plotted, this.marks);
    stack.append(this.element);
    this.points = { times: new Float64Array(0), values: new Float32Array(0), stretch: 1 };
    this.view = [0, 1];
    this.liftMarks = channel.lifts.map((lift) => this.#markOf(lift));
  }

  #markOf(lift) {
    const mark = document.createElement("span");
    mark.className = "trace-lift";
    mark.append(Object.assign(document.createElement("span"), { className: "trace-lift-text" }));
    this.marks.append(mark);
    return { lift, mark, text: mark.firstChild };
  }

  /** Make the drawing anew: for another size, or another look. */
  build(width, height, last) {
    this.plot?.destroy();
    this.width = width;
    const tone = toneOf(this.element, this.channel.measures);
    this.tone = tone;
    const line = { stroke: tone.grid, width: 1 };
    const common = { stroke: tone.text, font: tone.font, grid: line, ticks: { ...line, size: 5 } };
    const options = {
      width,
      height: height + (last ? TIME_AXIS : 0),
      padding: [TOP, RIGHT_EDGE, last ? 0 : 4, 0],
      cursor: { show: false },
      legend: { show: false },
      scales: { x: { time: false, range: () => this.view }, y: { range: (_, low, high) => roomy(low, high) } },
      axes: [
        last
          ? { ...common, size: TIME_AXIS, space: SPLITS_APART, values: (...of) => this.#times(...of) }
          : { ...common, size: 0, space: SPLITS_APART, values: () => [], ticks: { show: false } },
        { ...common, size: AXIS_WIDTH, space: 26, values: (_, splits, __, ___, step) => this.numbers.splits(splits, step) },
      ],
      series: [{}, { stroke: tone.line, width: tone.width, spanGaps: false, points: { size: 5, fill: tone.line } }],
    };
    this.plot = new window.uPlot(options, this.#data(), this.plotted);
    this.draw(this.view);
  }

  /** Times below the axis; the last is left out where the edge would cut it. */
  #times(plot, splits, _axis, _space, step) {
    const edge = this.width - AXIS_WIDTH - RIGHT_EDGE - 22;
    return this.numbers.times(splits.map((time) => (time !== null && plot.valToPos(time, "x") > edge ? null : time)), step);
  }

  #data() {
    return [this.points.times, drawable(this.points.values)];
  }

  /** Draw points, or those it has, in a window of time. */
  draw(view, points = null) {
    this.view = view;
    if (points) this.points = points;
    if (!this.plot) return;
    // a dense, noisy trace is drawn with the finest line: a wide one hides its shape, and costs three times as much
    const dense = this.points.times.length > DENSE * this.width && roughness(this.points.values) > ROUGH;
    this.plot.series[1].width = dense ? 1 : this.tone.width;
    this.plot.batch(() => {
      if (points) this.plot.setData(this.#data(), false);
      this.plot.setScale("x", { min: view[0], max: view[1] });
    });
    this.#placeMarks();
  }

  #placeMarks() {
    const inner = this.width - AXIS_WIDTH - RIGHT_EDGE;
    const scale = inner / (this.view[1] - this.view[0]);
    const apart = Math.min(...gaps(this.channel.lifts.map((lift) => lift.at_s))) * scale;
    for (const { lift, mark, text } of this.liftMarks) {
      const at = (lift.at_s - this.view[0]) * scale;
      mark.hidden = at < 0 || at > inner;
      mark.style.left = `${AXIS_WIDTH + at}px`;
      // a force climbs up to first lift and is flat behind it; lift and sound are flat before it
      const climbs = this.channel.measures === "pull_force";
      mark.classList.toggle("turned", climbs ? at > inner - LABEL_WIDTH : at > LABEL_WIDTH);
      const full = this.numbers.moment(lift);
      const said = apart > 2.2 * LABEL_WIDTH ? full : `${lift.pull}`;
      if (text.textContent !== said) text.textContent = said;
    }
  }
}

function gaps(times) {
  return times.slice(1).map((time, i) => time - times[i]);
}

/** How often a trace runs up or down its whole height. */
function roughness(values) {
  let way = 0;
  let lowest = Infinity;
  let highest = -Infinity;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
    const step = Math.abs(value - values[i - 1]);
    if (step > 0) way += step; // not for a gap, nor for the first
  }
  return highest > lowest ? way / (highest - lowest) : 0;
}

/** A range with air above and below; a channel that stands still is shown in the middle. */
function roomy(low, high) {
  if (low === null || high === null || !Number.isFinite(low) || !Number.isFinite(high)) return [0, 1];
  const air = high > low ? 0.08 * (high - low) : Math.max(1e-6, 0.01 * Math.abs(high));
  return [low - air, high + 1.8 * air];
}
