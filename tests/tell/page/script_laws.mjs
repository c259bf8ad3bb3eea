/* The page's pure modules, tried by node's own test runner; tests/tell/page/test_script.py runs it. */

import assert from "node:assert/strict";
import { test } from "node:test";
import { pathToFileURL } from "node:url";

const from = (name) => import(pathToFileURL(`${process.env.PAGE}/${name}.js`));
const words = await from("words");
const scale = await from("scale");
const span = await from("span");

test("a figure keeps two decimals below ten, and nothing is shown as a number that is none", () => {
  assert.equal(words.figure(4.555), "4.55");
  assert.equal(words.figure(9.996), "10.0");
  assert.equal(words.figure(-0.5), "−0.50");
  for (const none of [null, undefined, NaN, Infinity]) assert.equal(words.figure(none), "–");
});

test("a length is said in two parts at most", () => {
  const said = { 0: "0 s", 99: "99 s", 900: "15 min", 3600: "60 min", 12000: "3 h 20 min", 28800: "8 h", 259200: "3 d", 446400: "5 d 4 h" };
  for (const [s, expected] of Object.entries(said)) assert.equal(words.length(Number(s)), expected);
});

test("a moment of today is a clock, of another day has its day, of another year its year", () => {
  const noon = Date.UTC(2026, 2, 1, 12, 0, 5) / 1000;
  assert.equal(words.moment(noon, noon + 60), "12:00:05");
  assert.equal(words.moment(noon - 86400, noon), "28 Feb 12:00:05");
  assert.equal(words.moment(noon - 400 * 86400, noon), "25 Jan 2025 12:00:05");
  assert.equal(words.moment(null, noon), "–");
});

test("every state of an alarm has its words, and each but normal something that can be done", () => {
  for (const state of Object.keys(words.ALARM_WORDS)) {
    assert.ok(words.standing({ state }, 0).length > 3, state);
    assert.ok(words.actionsFor({ state }).length > 0, state);
  }
  assert.equal(words.actionsFor({ state: "latched_unacknowledged" })[0], "acknowledge");
  assert.equal(words.actionsFor({ state: "latched_acknowledged" })[0], "clear");
  assert.deepEqual(words.actionsFor({ state: "out_of_service" }), ["return_to_service"]);
});

test("a shelved alarm says until when, by whom and why", () => {
  const now = Date.UTC(2026, 2, 1, 12) / 1000;
  const alarm = { state: "shelved", shelved: { until: "2026-03-01T14:00:00.000Z", by: "anna", reason: "hopper work" } };
  assert.equal(words.standing(alarm, now), "shelved until 14:00 by anna: hopper work");
});

test("a scale and its way back are one", () => {
  const place = scale.linear(0, 10, 200, 0);
  for (const value of [-3, 0, 2.5, 10, 17]) assert.ok(Math.abs(place.back(place(value)) - value) < 1e-9);
});

test("ticks are round, within, and about as many as wanted", () => {
  for (let k = 0; k < 300; k += 1) {
    const low = Math.sin(k) * 50;
    const high = low + 10 ** ((k % 9) - 4);
    const found = scale.ticks(low, high, 6);
    assert.ok(found.length >= 2 && found.length <= 8, `${low} ${high} ${found.length}`);
    assert.ok(found.every((one) => one >= low - 1e-6 && one <= high + 1e-6));
  }
});

test("ticks of time stand on round local moments for every span from a minute to three years", () => {
  const until = Date.UTC(2026, 10, 2, 3, 17, 41) / 1000; // the day after clocks go back in Chicago
  for (const s of [60, 900, 3600, 28800, 86400, 604800, 2629800, 31557600, 94672800]) {
    const found = scale.timeTicks(until - s, until, 8);
    assert.ok(found.length >= 2 && found.length <= 18, `${s}: ${found.length}`);
    assert.ok(found.every((t) => t >= until - s && t <= until));
    if (s > 2 * 86400) assert.ok(found.every((t) => new Date(t * 1000).getHours() === 0), `${s}`);
  }
});

test("labels never lie on each other nor leave the paper while there is room", () => {
  for (let k = 0; k < 300; k += 1) {
    const count = 1 + (k % 6);
    const labels = Array.from({ length: count }, (_, n) => ({ at: Math.abs(Math.sin(k * 7 + n * 3)) * 100 }));
    const put = scale.pushApart(labels, 12, 5, 105).map((one) => one.put);
    for (let n = 1; n < put.length; n += 1) assert.ok(put[n] - put[n - 1] >= 12 - 1e-9);
    assert.ok(put[0] >= 5 - 1e-9 && put[put.length - 1] <= 105 + 1e-9);
  }
});

test("what is worth showing holds every set point and every reading", () => {
  const card = { bands: [{ setpoint: 6 }, { setpoint: 0.8 }], cleaning: { start: 4.5, stop: 3 }, dp: { value: 9.9 }, scale: { low: 0, high: 10 } };
  const { low, high } = scale.worthShowing(card, 2, 7);
  for (const value of [0.8, 6, 4.5, 3, 9.9, 2, 7]) assert.ok(value >= low && value <= high);
  assert.deepEqual(scale.worthShowing({ dp: { value: null }, scale: { low: 0, high: 10 } }), { low: 0, high: 10 });
});

test("thinning keeps the lowest, the highest, the last and the worst quality", () => {
  const rows = Array.from({ length: 1000 }, (_, k) => [k, Math.sin(k), Math.sin(k) + 1, Math.sin(k) + 0.5, k === 501 ? 2 : 0]);
  const found = scale.thin(rows, 120);
  assert.ok(found.length <= 120);
  assert.equal(Math.min(...found.map((row) => row[1])), Math.min(...rows.map((row) => row[1])));
  assert.equal(Math.max(...found.map((row) => row[2])), Math.max(...rows.map((row) => row[2])));
  assert.equal(found.filter((row) => row[4] === 2).length, 1);
  assert.equal(found.at(-1)[3], rows.at(-1)[3]);
  assert.equal(scale.thin([[0, null, null, null, 2], [1, null, null, null, 2]], 1)[0][1], null);
});

test("a chart never looks past now, nor at less than a minute", () => {
  const now = 1e9;
  let view = span.latest(28800, now);
  for (let k = 0; k < 2000; k += 1) {
    const about = view.from + (view.until - view.from) * Math.abs(Math.sin(k));
    view = k % 3 ? span.zoom(view, 0.3 + Math.abs(Math.cos(k * 5)) * 2, about, now) : span.pan(view, Math.sin(k * 11) * 40000, now);
    assert.ok(view.until <= now + 1e-6);
    assert.ok(view.until - view.from >= span.LEAST_S - 1e-3 && view.until - view.from <= span.MOST_S + 1e-3);
  }
});

test("zooming keeps the moment under the finger where it is", () => {
  const view = { from: 0, until: 1000, follows: false };
  const next = span.zoom(view, 0.5, 300, 1e6);
  assert.ok(Math.abs((300 - next.from) / (next.until - next.from) - 0.3) < 1e-9);
});

test("a gap has no row", () => {
  const rows = [[0], [1], [2], [100], [101]];
  assert.equal(span.rowAt(rows, 50, 1), null);
  assert.equal(span.rowAt(rows, 100.4, 1)[0], 100);
  assert.equal(span.rowAt([], 5, 1), null);
});

test("moments and units in the server's sentences are said as in the rest of the page", () => {
  const said = words.typeset("shelved by anna until 2026-11-25 22:14:49 UTC: DP 8 inH2O");
  assert.equal(said, "shelved by anna until 25 Nov 22:14:49: DP 8 inH₂O");
});
