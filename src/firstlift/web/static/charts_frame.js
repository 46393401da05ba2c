// Frames of traces as they come over the wire (the layout is told in web/trace_points.py), and buffers that grow live.

const HEAD = 8;

/** Read a frame's bytes: no copy is made, the arrays look into the message. */
export function readFrame(bytes) {
  const head = new Float64Array(bytes, 0, HEAD);
  if (head[0] !== 1) throw new RangeError(`traces: layout ${head[0]} is not known to this page`);
  const count = head[7];
  const sizes = new Float64Array(bytes, 8 * HEAD, 2 * count);
  let total = 0;
  for (let i = 0; i < count; i++) total += sizes[2 * i];
  const timesAt = 8 * (HEAD + 2 * count);
  const valuesAt = timesAt + 8 * total;
  const channels = [];
  for (let i = 0, at = 0; i < count; i++) {
    const points = sizes[2 * i];
    channels.push({
      times: new Float64Array(bytes, timesAt + 8 * at, points),
      values: new Float32Array(bytes, valuesAt + 4 * at, points),
      stretch: sizes[2 * i + 1],
    });
    at += points;
  }
  return { number: head[1], sent: head[2], start: head[3], stop: head[4], from: head[5], to: head[6], channels };
}

/** The point nearest to a time, by halving; -1 where there is none. */
export function nearest(times, at) {
  let low = 0;
  let high = times.length - 1;
  if (high < 0) return -1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle] <= at) low = middle;
    else high = middle;
  }
  return at - times[low] <= times[high] - at ? low : high;
}

/** Lowest and highest value between two times, gaps left out; null where there is none. */
export function extent(channel, start, stop) {
  let lowest = Infinity;
  let highest = -Infinity;
  const { times, values } = channel;
  for (let i = 0; i < times.length; i++) {
    if (times[i] < start || times[i] > stop) continue;
    const value = values[i];
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  return highest >= lowest ? [lowest, highest] : null;
}

/** What uPlot is given: it draws a line over NaN, so a channel with gaps goes as a list with nulls. */
export function drawable(values) {
  for (let i = 0; i < values.length; i++) {
    if (values[i] !== values[i]) return Array.from(values, (value) => (value === value ? value : null));
  }
  return values;
}

/** One channel that grows at its end and forgets at its beginning. */
export class Growing {
  constructor(capacity) {
    this.capacity = capacity;
    this.allTimes = new Float64Array(2 * capacity);
    this.allValues = new Float32Array(2 * capacity);
    this.first = 0;
    this.last = 0;
    this.stretch = 1;
  }

  get times() {
    return this.allTimes.subarray(this.first, this.last);
  }

  get values() {
    return this.allValues.subarray(this.first, this.last);
  }

  /** Take points in; what does not fit beside the latest is moved to the front of the buffer first. */
  add(times, values) {
    const over = Math.max(0, times.length - this.capacity);
    const count = times.length - over;
    if (this.last + count > this.allTimes.length) {
      const keep = Math.min(this.last - this.first, this.capacity - count);
      this.allTimes.copyWithin(0, this.last - keep, this.last);
      this.allValues.copyWithin(0, this.last - keep, this.last);
      this.first = 0;
      this.last = keep;
    }
    this.allTimes.set(over ? times.subarray(over) : times, this.last);
    this.allValues.set(over ? values.subarray(over) : values, this.last);
    this.last += count;
    this.first = Math.max(this.first, this.last - this.capacity);
  }

  /** Frames were left out: the line is broken there. */
  breakAt(time) {
    this.add(Float64Array.of(time), Float32Array.of(NaN));
  }

  /** Forget what lies before a time, but for one point, so that the line runs to the edge. */
  forgetBefore(time) {
    while (this.first + 1 < this.last && this.allTimes[this.first + 1] < time) this.first += 1;
  }
}
