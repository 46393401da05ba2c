// The plain parts about the traces: buttons, the table of values, the list of keys.

import { fill } from "./charts_words.js";

const SVG = "http://www.w3.org/2000/svg";
const SIGNS = {
  closer: "M10 4v12M4 10h12",
  wider: "M4 10h12",
  earlier: "M12.5 4 6.5 10l6 6",
  later: "M7.5 4l6 6-6 6",
  whole: "M3 4v12M17 4v12M6 10h8M8.5 7.5 6 10l2.5 2.5M11.5 7.5 14 10l-2.5 2.5",
  lift: "M4 16h12M10 13V4M6.5 7.5 10 4l3.5 3.5",
  mark: "M6 3v14M6 4h8l-2 3 2 3H6",
  play: "M6 4l10 6-10 6z",
  pause: "M7 4v12M13 4v12",
};

export function make(name, className, text) {
  const element = document.createElement(name);
  if (className) element.className = className;
  if (text !== undefined) element.textContent = text;
  return element;
}

function sign(name) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 20 20");
  svg.setAttribute("aria-hidden", "true");
  svg.append(document.createElementNS(SVG, "path"));
  svg.firstChild.setAttribute("d", SIGNS[name]);
  return svg;
}

function button(name, text, does) {
  const made = make("button", "trace-button");
  made.type = "button";
  if (name) made.append(sign(name));
  made.append(make("span", "", text));
  made.addEventListener("click", does);
  return made;
}

/** All that can be done with the traces, as buttons. */
export function buildBar(traces) {
  const { words, about } = traces;
  const element = make("div", "trace-bar");
  element.setAttribute("role", "group");
  element.setAttribute("aria-label", words.bar);
  const group = (...buttons) => {
    const made = make("div", "trace-group");
    made.append(...buttons);
    element.append(made);
  };
  group(
    button("closer", words.closer, () => traces.closer()),
    button("wider", words.wider, () => traces.wider()),
    button("earlier", words.earlier, () => traces.pan(-0.5)),
    button("later", words.later, () => traces.pan(0.5)),
  );
  const pulls = about.pulls.filter((pull) => pull.start_s !== null || pull.first_lift_s !== null);
  group(
    button("whole", words.whole, () => traces.whole()),
    ...pulls.slice(0, 12).map((pull) => button("", fill(words.pull, { n: pull.number }), () => traces.toPull(pull))),
  );
  const last = [button("mark", words.setMark, () => traces.setMark())];
  if (pulls.some((pull) => pull.first_lift_s !== null)) {
    last.unshift(button("lift", words.nextLift, () => traces.toLift()));
  }
  const play = button("play", words.play, () => traces.togglePlay());
  play.title = words.replayNote;
  play.classList.add("trace-play");
  if (traces.hasAttribute("replay")) last.push(play);
  group(...last);
  const playing = (on) => {
    play.firstChild.replaceWith(sign(on ? "pause" : "play"));
    play.lastChild.textContent = on ? words.pause : words.play;
  };
  return { element, playing };
}

/** The same as the picture in numbers: every channel at the cursor, at the mark, and in view. */
export function buildTable(traces) {
  const { words, about, names, numbers } = traces;
  const element = make("div", "trace-scroll");
  element.tabIndex = 0;
  element.setAttribute("role", "region");
  element.setAttribute("aria-label", words.table);
  const table = element.appendChild(make("table", "trace-table"));
  const head = table.createTHead().insertRow();
  for (const name of [words.channel, words.atCursor, words.atMark, words.difference, words.range, words.firstLift]) {
    const cell = make("th", "", name);
    cell.scope = "col";
    head.append(cell);
  }
  const body = table.createTBody();
  const time = row(body, make("span", "", words.time), 4);
  const rows = about.channels.map((channel, i) => {
    const made = row(body, choice(traces, channel, i), 5);
    made.row.dataset.measures = channel.measures;
    made.cells[4].textContent = lifts(channel, words, numbers);
    return made;
  });
  time.cells[3].colSpan = 2;
  // how far and how high each channel was seen to reach: its values are read to so many decimals
  const reach = about.channels.map(() => ({ low: Infinity, high: -Infinity }));
  const said = (value, i) => {
    const { low, high } = reach[i];
    return numbers.read(value, high - low, Math.max(Math.abs(low), Math.abs(high)));
  };
  const put = (cell, value, i) => {
    const text = value === undefined ? "–" : value === null ? words.gap : `${said(value, i)} ${about.channels[i].unit}`;
    if (cell.textContent !== text) cell.textContent = text;
  };
  const fillIn = (read, marked, ranges) => {
    const { view, at, mark } = traces;
    table.classList.toggle("marked", mark !== null);
    const seconds = (value) => (value === null ? "–" : `${numbers.time(value, view)} s`);
    time.cells[0].textContent = seconds(at);
    time.cells[1].textContent = seconds(mark);
    time.cells[2].textContent = seconds(mark === null ? null : at - mark);
    time.cells[3].textContent = `${numbers.time(view[0], view)} – ${numbers.time(view[1], view)} s`;
    rows.forEach(({ cells }, i) => {
      const range = ranges[i];
      if (range) reach[i] = { low: Math.min(reach[i].low, range[0]), high: Math.max(reach[i].high, range[1]) };
      put(cells[0], range ? read[i] : null, i);
      put(cells[1], marked?.[i], i);
      const both = marked && read[i] !== null && marked[i] !== null;
      put(cells[2], both ? read[i] - marked[i] : undefined, i);
      const { unit } = about.channels[i];
      cells[3].textContent = range ? `${said(range[0], i)} – ${said(range[1], i)} ${unit}` : words.gap;
    });
  };
  return { element, fill: fillIn };
}

function row(body, name, count) {
  const made = body.insertRow();
  const head = make("th", "");
  head.scope = "row";
  head.append(name);
  made.append(head);
  return { row: made, cells: Array.from({ length: count }, () => made.insertCell()) };
}

function choice(traces, channel, i) {
  const label = make("label", "trace-choice");
  const box = make("input");
  box.type = "checkbox";
  box.checked = true;
  box.setAttribute("aria-label", fill(traces.words.show, { name: traces.names[i] }));
  box.addEventListener("change", () => {
    const others = traces.panels.some((panel, j) => j !== i && !panel.element.hidden);
    if (!others) box.checked = true; // one channel always stays
    traces.toggle(i, box.checked);
  });
  label.append(box, make("span", "trace-swatch"), make("span", "", traces.names[i]));
  return label;
}

function lifts(channel, words, numbers) {
  if (!channel.lifts.length) return words.none;
  const each = channel.lifts.map((lift) => `${lift.pull}: ${numbers.moment(lift)}`);
  return [...each, ...(channel.together ? [words.together] : [])].join("\n");
}

/** Which key does what. */
export function buildKeys(words) {
  const element = make("details", "trace-keys");
  element.append(make("summary", "", words.keys));
  const list = element.appendChild(make("dl"));
  const keys = [
    ["← →", words.keyMove],
    ["Home End", words.keyEnds],
    ["+ −", words.keyZoom],
    ["Page ↑ ↓", words.keyPan],
    ["0", words.keyWhole],
    ["L Shift+L", words.keyLift],
    ["M", words.keyMark],
  ];
  for (const [key, text] of keys) {
    const name = list.appendChild(make("dt"));
    for (const part of key.split(" ")) name.append(make("kbd", "", part), " ");
    list.append(make("dd", "", text));
  }
  element.append(make("p", "", words.keyDrag));
  return element;
}
