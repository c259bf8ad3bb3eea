/* Chart, drawing: the DP of a collector over any stretch: low to high, residual, set points, cleanings, alarms, events. */

import { linear, ticks, timeTicks, worthShowing } from "./scale.js";
import { alarmBar, drawMarks, font, hatch, palette, side, unit } from "./trend.js";
import { MONTHS, clock, day, short } from "./words.js";

export const LEFT = () => 34 * unit();
const TOP = () => 30 * unit();
const FOOT = () => 36 * unit();

export const plot = (width) => ({ left: LEFT(), right: width - side() });

/* paper: {ink, width, height}; data: the watcher's answer; view: {from, until}; marks: set points; at: the reading line. */
export function drawChart(paper, data, card, view, marks, at) {
  const { ink, width, height } = paper;
  const { left, right } = plot(width);
  const x = linear(view.from, view.until, left, right);
  const rows = data.rows.filter((row) => row[0] + data.step_s >= view.from && row[0] <= view.until);
  const span = extent(rows);
  const scale = worthShowing(card, span.low, span.high);
  const box = { left, right, top: TOP(), foot: height - FOOT() };
  const y = linear(scale.low, scale.high, box.foot, box.top);
  grid(ink, scale, view, x, y, box, height);
  ink.save();
  ink.beginPath();
  ink.rect(left, 0, right - left, height);
  ink.clip();
  absent(ink, data, rows, view, x, box);
  envelope(ink, data, rows, x, y);
  line(ink, data.residual, data.step_s, x, y);
  cleanings(ink, data, x, box);
  alarms(ink, data, view, x);
  events(ink, data, x);
  ink.restore();
  drawMarks(ink, marks, y, left, right, right + 14 * unit(), { low: box.top, high: box.foot });
  if (at !== null) cursor(ink, data, at, x, y, box);
}

function extent(rows) {
  let low = Infinity;
  let high = -Infinity;
  for (const row of rows) {
    if (row[1] !== null && row[1] < low) low = row[1];
    if (row[2] !== null && row[2] > high) high = row[2];
  }
  return { low, high };
}

function grid(ink, scale, view, x, y, box, height) {
  const ground = palette();
  ink.font = `${12 * unit()}px ${font()}`;
  ink.lineWidth = 1;
  ink.strokeStyle = ground.rule;
  ink.fillStyle = ground.soft;
  ink.textBaseline = "middle";
  ink.textAlign = "right";
  ink.beginPath();
  for (const value of ticks(scale.low, scale.high, (box.foot - box.top) / (38 * unit()))) {
    const at = Math.round(y(value)) + 0.5;
    ink.moveTo(box.left, at);
    ink.lineTo(box.right, at);
    ink.fillText(short(value), box.left - 6 * unit(), at);
  }
  ink.textBaseline = "alphabetic";
  ink.textAlign = "center";
  const times = timeTicks(view.from, view.until, (box.right - box.left) / (82 * unit()));
  for (const t of times) {
    const at = Math.round(x(t)) + 0.5;
    ink.moveTo(at, box.top);
    ink.lineTo(at, box.foot);
    if (at > box.left + 20 && at < box.right - 20) ink.fillText(tickWords(t, times), at, height - 3 * unit());
  }
  ink.stroke();
  ink.textAlign = "left";
}

function tickWords(t, times) {
  const step = times.length > 1 ? times[1] - times[0] : 3600;
  const at = new Date(t * 1000);
  if (step > 20 * 86400) return `${MONTHS[at.getMonth()]} ${at.getFullYear()}`;
  if (at.getHours() === 0 && at.getMinutes() === 0 && at.getSeconds() === 0) return day(t);
  return clock(t, step < 60);
}

/* Runs of rows that lie side by side and pass the test. */
function runs(rows, stepS, test, tell) {
  let run = [];
  const flush = () => run.length && tell(run);
  for (const row of rows) {
    const isNext = run.length && row[0] - run[run.length - 1][0] > stepS * 1.6;
    if (!test(row) || isNext) {
      flush();
      run = [];
    }
    if (test(row)) run.push(row);
  }
  flush();
}

const isKnown = (row) => row[1] !== null;

/* Hatched: read, but bad or uncertain. Grey: nothing was recorded at all. */
function absent(ink, data, rows, view, x, box) {
  const ground = palette();
  const height = box.foot - box.top;
  let seen = Math.max(view.from, data.from_utc_s);
  ink.fillStyle = ground.rule;
  const gap = (from, until) => until - from > data.step_s * 1.6 && ink.fillRect(x(from), box.top, x(until) - x(from), height);
  for (const row of rows) {
    gap(seen, row[0]);
    seen = row[0] + data.step_s;
  }
  gap(seen, Math.min(view.until, data.until_utc_s));
  for (const [worst, colour, top] of [[2, ground.hatch, box.top], [1, ground.hatch, box.foot - 8 * unit()]]) {
    runs(rows, data.step_s, (row) => row[4] === worst, (run) => {
      const from = x(run[0][0]);
      const until = x(run[run.length - 1][0] + data.step_s);
      hatch(ink, from, Math.max(2, until - from), top, box.foot - top, colour);
    });
  }
}

function envelope(ink, data, rows, x, y) {
  const ground = palette();
  ink.lineJoin = "round";
  runs(rows, data.step_s, isKnown, (run) => {
    const middle = (row) => x(row[0] + data.step_s / 2);
    const shape = new Path2D();
    for (const row of run) shape.lineTo(middle(row), y(row[2]));
    for (let k = run.length - 1; k >= 0; k -= 1) shape.lineTo(middle(run[k]), y(run[k][1]) + 0.5);
    shape.closePath();
    ink.fillStyle = ground.fill;
    ink.fill(shape);
    ink.strokeStyle = ground.trace;
    ink.lineWidth = 1.2 * unit();
    if (data.tier !== "steps") {
      ink.stroke(shape);
      return;
    }
    ink.beginPath();
    for (const row of run) ink.lineTo(middle(row), y(row[3] ?? row[2]));
    ink.lineWidth = 1.6 * unit();
    ink.stroke();
  });
}

function line(ink, points, stepS, x, y) {
  if (!points?.length) return;
  ink.strokeStyle = palette().mark;
  ink.lineWidth = 2 * unit();
  ink.setLineDash([2 * unit(), 3 * unit()]);
  ink.beginPath();
  let before = -Infinity;
  for (const [t, value] of points) {
    if (t - before > Math.max(stepS * 3, 3600)) ink.moveTo(x(t), y(value));
    else ink.lineTo(x(t), y(value));
    before = t;
  }
  ink.stroke();
  ink.setLineDash([]);
}

function cleanings(ink, data, x, box) {
  ink.strokeStyle = palette().mark;
  ink.fillStyle = palette().mark;
  const foot = box.foot + 2;
  if (data.cleanings) {
    ink.lineWidth = 1.5 * unit();
    ink.beginPath();
    for (const [t] of data.cleanings) {
      ink.moveTo(x(t), foot);
      ink.lineTo(x(t), foot + 10 * unit());
    }
    ink.stroke();
  } else if (data.cleanings_a_day?.length) {
    const most = Math.max(...data.cleanings_a_day.map((one) => one[1]), 1);
    for (const [t, n] of data.cleanings_a_day) {
      const height = (12 * unit() * n) / most;
      ink.fillRect(x(t), foot + 12 * unit() - height, Math.max(1, x(t + 86400) - x(t) - 1), height);
    }
  }
}

function alarms(ink, data, view, x) {
  for (const one of data.alarms || []) alarmBar(ink, x(one.from_utc_s), x(one.until_utc_s ?? Math.min(view.until, data.until_utc_s)), one.priority);
}

/* A small flag for each event; many at one place are one. */
function events(ink, data, x) {
  let last = -Infinity;
  ink.fillStyle = palette().ink;
  for (const one of [...(data.events || [])].sort((a, b) => a.at_utc_s - b.at_utc_s)) {
    const at = x(one.at_utc_s);
    if (at - last < 4 * unit()) continue;
    last = at;
    ink.beginPath();
    ink.moveTo(at, 26 * unit());
    ink.lineTo(at - 4 * unit(), 14 * unit());
    ink.lineTo(at + 4 * unit(), 14 * unit());
    ink.fill();
  }
}

function cursor(ink, data, at, x, y, box) {
  const ground = palette();
  const place = Math.round(x(at)) + 0.5;
  ink.strokeStyle = ground.ink;
  ink.lineWidth = 1.5;
  ink.beginPath();
  ink.moveTo(place, box.top - 6);
  ink.lineTo(place, box.foot + 6);
  ink.stroke();
}
