// What the traces say, in English; a page in another language hands its words in as data-words (JSON, same keys).

export const WORDS = {
  pull_force: "Pull force",
  spindle_lift: "Lift",
  acoustic: "Sound",
  line_pressure: "Line pressure",
  back_pressure: "Back pressure",
  temperature: "Temperature",
  bar: "Move about the traces",
  closer: "Closer",
  wider: "Wider",
  earlier: "Earlier",
  later: "Later",
  whole: "Whole recording",
  pull: "Pull {n}",
  nextLift: "Next first lift",
  setMark: "Set mark",
  play: "Play",
  pause: "Pause",
  replayNote: "Replay at the recording's own speed",
  cursor: "Cursor over the traces",
  from: "From",
  to: "to",
  every: "every sample is drawn",
  thinned: "each pixel shows the lowest and the highest of up to {n} samples",
  live: "replay, {s} s",
  channel: "Channel",
  atCursor: "At the cursor",
  atMark: "At the mark",
  difference: "Difference",
  range: "Lowest to highest in view",
  firstLift: "First lift by this channel, ± standard uncertainty",
  show: "Show {name}",
  time: "Time",
  gap: "gap",
  none: "gave none",
  together: "all cells together",
  table: "Values of the traces",
  markSet: "Mark set at {t} s",
  keys: "Keys",
  keyMove: "move the cursor by a point; with Shift by ten",
  keyZoom: "closer, wider",
  keyPan: "earlier, later by half a window",
  keyEnds: "cursor to the first, last point in view",
  keyLift: "to the next first lift, and back",
  keyMark: "set the mark here, to read differences from it",
  keyWhole: "the whole recording",
  keyDrag: "Drag over the traces to look closer; double-click for the whole recording.",
  loading: "Reading the recording …",
  failed: "The traces cannot be shown: {what}.",
  signedOut: "you are signed out; load the page again to sign in",
  again: "Try again",
  between: "; ",
  ended: "The replay has ended.",
  lost: "The connection to the app was lost.",
};

/** Put values in their places: fill("Pull {n}", {n: 2}). */
export function fill(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
}

/** Numbers as the page's language writes them. */
export class Numbers {
  constructor(language) {
    this.language = language || "en";
    this.known = new Map();
  }

  fixed(value, decimals) {
    const key = `f${decimals}`;
    if (!this.known.has(key)) {
      const options = { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false };
      this.known.set(key, new Intl.NumberFormat(this.language, options));
    }
    return this.known.get(key).format(value).replace(/^-/, "−");
  }

  /** A value read off, to some significant digits. */
  value(value, digits = 5) {
    if (value === 0) return this.fixed(0, 0);
    const decimals = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
    return this.fixed(value, Math.max(0, Math.min(6, decimals)));
  }

  /** A value of a channel that reaches so far and so high: the same decimals wherever it is read. */
  read(value, span, most) {
    return this.fixed(value, decimalsOf(Math.max(span / 2000, most / 20000, 1e-6)));
  }

  /** A time, to a two-thousandth of the window it is read in. */
  time(seconds, view) {
    return this.fixed(seconds, decimalsOf((view[1] - view[0]) / 1000));
  }

  /** A first lift with its standard uncertainty, both to a tenth of a millisecond or finer. */
  moment(lift) {
    const fine = lift.u_s < 0.001;
    return `${this.fixed(lift.at_s, fine ? 5 : 4)} s ± ${this.fixed(1000 * lift.u_s, fine ? 2 : 1)} ms`;
  }

  times(splits, step) {
    const last = splits.findLastIndex((value) => value !== null);
    return this.splits(splits, step).map((text, i) => (i === last ? `${text} s` : text));
  }

  splits(splits, step) {
    return splits.map((value) => (value === null ? "" : this.fixed(value === 0 ? 0 : value, decimalsOfStep(step))));
  }
}

/** The decimals of a resolution: of the power of ten at or below it. */
function decimalsOf(step) {
  return Math.max(0, Math.min(6, Math.ceil(-Math.log10(step) - 1e-9)));
}

/** The decimals that a step of an axis needs to be written whole: 0.0025 needs four. */
function decimalsOfStep(step) {
  let decimals = 0;
  for (let scaled = step; decimals < 7 && Math.abs(scaled - Math.round(scaled)) > 1e-6 * scaled; scaled *= 10) decimals++;
  return decimals;
}
