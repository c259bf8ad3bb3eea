/* Trend: one strip's paper: the last hours as low and high of each piece, with cleanings, alarms and blind stretches. */

import { clock } from "./words.js";
import { linear, pushApart, worthShowing } from "./scale.js";

export { linear, worthShowing };

let inks = null;

/* Colours of the theme, read once; forgotten when the theme changes. */
export function palette() {
  if (!inks) {
    const style = getComputedStyle(document.documentElement);
    const names = ["ink", "soft", "rule", "trace", "fill", "mark", "paper", "urgent", "high", "medium", "low", "advisory", "hatch"];
    inks = Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
  }
  return inks;
}

export function forgetPalette() {
  inks = null;
  rem = 0;
}

/* Sizes on a canvas grow with the type of the page. */
let rem = 0;
export function unit() {
  rem ||= parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
  return rem;
}

export const top = () => 10 * unit();
export const bottom = () => 18 * unit();
export const side = () => 74 * unit();
const WEIGHT = { urgent: 7, high: 5, medium: 4, low: 3, advisory: 2 };
const DASH = { urgent: [], high: [], medium: [7, 3], low: [3, 3], advisory: [1, 3] };

/* Lines and labels of the set points; answers nothing. `right` is where the labels begin. */
export function drawMarks(ink, marks, y, from, to, right, ends, size = 12 * unit()) {
  const ground = palette();
  const labels = pushApart(marks.map((one) => ({ ...one, at: y(one.value) })), size + 1, ends.low, ends.high);
  ink.font = `${size}px ${font()}`;
  ink.textBaseline = "middle";
  for (const one of labels) {
    ink.strokeStyle = one.priority ? ground[one.priority] : ground.mark;
    ink.lineWidth = one.priority ? 1.5 : 1;
    ink.setLineDash(one.priority ? DASH[one.priority] : [5, 4]);
    ink.beginPath();
    ink.moveTo(from, one.at);
    ink.lineTo(to, one.at);
    ink.stroke();
    ink.setLineDash([]);
    ink.fillStyle = one.priority ? ground[one.priority] : ground.soft;
    ink.fillText(one.text, right, one.put);
  }
}

let family = "";
export function font() {
  family ||= getComputedStyle(document.body).fontFamily;
  return family;
}

/* Slanted lines over a stretch: what is there cannot be trusted, or is not there. */
export function hatch(ink, x, width, top, height, colour) {
  ink.save();
  ink.beginPath();
  ink.rect(x, top, width, height);
  ink.clip();
  ink.strokeStyle = colour;
  ink.lineWidth = 1;
  ink.beginPath();
  for (let at = x - height; at < x + width; at += 5) {
    ink.moveTo(at, top + height);
    ink.lineTo(at + height, top);
  }
  ink.stroke();
  ink.restore();
}

/* A bar along the top; thick and whole for what is urgent, thin and broken for what is not. */
export function alarmBar(ink, from, to, priority) {
  ink.strokeStyle = palette()[priority] || palette().ink;
  ink.lineWidth = WEIGHT[priority] || 4;
  ink.setLineDash(DASH[priority] || []);
  ink.beginPath();
  ink.moveTo(from, 4);
  ink.lineTo(Math.max(to, from + 2), 4);
  ink.stroke();
  ink.setLineDash([]);
}

/* The whole paper. trend: arrays as the watcher sends them; view: {low, high} of DP; marks: set points. */
export function drawTrend({ ink, width, height }, trend, times, view, marks) {
  const ground = palette();
  const right = width - side();
  const y = linear(view.low, view.high, height - bottom(), top());
  const x = linear(0, times.count, 0, right);
  rules(ink, times, x, right, height, ground);
  if (trend) {
    stretches(ink, trend, x, height, ground);
    envelope(ink, trend, x, y, ground);
  }
  drawMarks(ink, marks, y, 0, right, right + 14 * unit(), { low: top(), high: height - bottom() });
}

function rules(ink, times, x, right, height, ground) {
  ink.font = `${12 * unit()}px ${font()}`;
  ink.textBaseline = "alphabetic";
  ink.lineWidth = 1;
  const hours = (times.count * times.step_s) / 3600;
  const every = right / hours < 34 * unit() ? 2 : 1;
  const first = new Date(times.start_utc_s * 1000);
  first.setMinutes(0, 0, 0);
  for (let t = first.getTime() / 1000; ; t += 3600) {
    const at = x((t - times.start_utc_s) / times.step_s);
    if (at > right - 1) break;
    if (at < 0) continue;
    ink.strokeStyle = ground.rule;
    ink.beginPath();
    ink.moveTo(Math.round(at) + 0.5, top());
    ink.lineTo(Math.round(at) + 0.5, height - bottom());
    ink.stroke();
    if (new Date(t * 1000).getHours() % (every * 2) === 0 && at > 16 * unit() && at < right - 16 * unit()) {
      ink.fillStyle = ground.soft;
      ink.textAlign = "center";
      ink.fillText(clock(t, false), at, height - 1);
      ink.textAlign = "left";
    }
  }
}

function stretches(ink, trend, x, height, ground) {
  const { alarm, blind, cleanings } = trend;
  each(alarm, (from, to, priority) => alarmBar(ink, x(from), x(to), priority));
  each(blind, (from, to) => hatch(ink, x(from), x(to) - x(from), top(), height - top() - bottom(), ground.hatch));
  ink.strokeStyle = ground.mark;
  ink.lineWidth = 1;
  ink.beginPath();
  cleanings.forEach((count, k) => {
    for (let n = 0; n < Math.min(count || 0, 3); n += 1) {
      const at = Math.round(x(k + (n + 0.5) / Math.min(count, 3))) + 0.5;
      ink.moveTo(at, height - bottom() - 5);
      ink.lineTo(at, height - bottom() + 1);
    }
  });
  ink.stroke();
}

/* Calls tell(from, to, value) for each run of one same value that is not empty. */
function each(list, tell) {
  let from = 0;
  for (let k = 1; k <= list.length; k += 1) {
    if (k === list.length || list[k] !== list[from]) {
      if (list[from]) tell(from, k, list[from]);
      from = k;
    }
  }
}

function envelope(ink, trend, x, y, ground) {
  const { low, high } = trend;
  let run = [];
  const flush = () => {
    if (run.length) band(ink, run, low, high, x, y, ground);
    run = [];
  };
  low.forEach((one, k) => (one === null ? flush() : run.push(k)));
  flush();
}

function band(ink, run, low, high, x, y, ground) {
  const shape = new Path2D();
  const edge = (k) => [x(k), x(k + 1)];
  for (const k of run) for (const at of edge(k)) shape.lineTo(at, y(high[k]));
  for (const k of [...run].reverse()) for (const at of edge(k).reverse()) shape.lineTo(at, y(low[k]) + 0.6);
  shape.closePath();
  ink.fillStyle = ground.fill;
  ink.fill(shape);
  ink.strokeStyle = ground.trace;
  ink.lineWidth = 1.25;
  ink.lineJoin = "round";
  ink.stroke(shape);
}
