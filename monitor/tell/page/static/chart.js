/* Chart: the DP of one collector, from minutes to years: by button, finger, wheel and keyboard, with an exact reading. */

import { get } from "./api.js";
import { drawChart, plot } from "./chart_draw.js";
import { fit, h, setAttr, setText } from "./dom.js";
import { clamp, linear, thin } from "./scale.js";
import { SPANS, latest, pan, rowAt, zoom } from "./span.js";
import { marksOf } from "./strip.js";
import { clock, day, figure, length, moment, typeset } from "./words.js";

const TABLE_ROWS = 120;
const QUALITY = ["good", "uncertain", "no reading"];

export class Chart {
  constructor(app, name) {
    this.app = app;
    this.name = name;
    this.view = latest(28800, app.nowS());
    this.data = null;
    this.at = null;
    this.asked = 0;
    this.fingers = new Map();
    this.build();
    this.listen();
    this.resize = new ResizeObserver(() => this.draw());
    this.resize.observe(this.canvas);
    this.follow = setInterval(() => this.goOn(), 1000);
  }

  build() {
    this.spans = SPANS.map(([s, words]) => {
      const button = h("button", { type: "button", text: words, onclick: () => this.go(latest(s, this.app.nowS())) });
      button.span = s;
      return button;
    });
    const turn = (words, label, act) => h("button", { type: "button", "aria-label": label, title: label, text: words, onclick: act });
    const span = () => this.view.until - this.view.from;
    this.moves = h(
      "div",
      { class: "moves", role: "group", "aria-label": "Move the chart" },
      turn("◀", "Earlier", () => this.go(pan(this.view, -span() / 2, this.app.nowS()))),
      turn("▶", "Later", () => this.go(pan(this.view, span() / 2, this.app.nowS()))),
      turn("+", "Nearer", () => this.zoomBy(0.5)),
      turn("−", "Farther", () => this.zoomBy(2)),
    );
    this.now = turn("Now", "Now", () => this.go(latest(span(), this.app.nowS())));
    this.canvas = h("canvas", { tabindex: "0", role: "slider", "aria-label": `DP of ${this.name}: reading line. Arrow keys move it, page keys go earlier and later, plus and minus zoom`, "aria-valuemin": "0", "aria-valuemax": "100", "aria-valuenow": "100", "aria-valuetext": "no moment chosen" });
    this.when = h("p", { class: "when" });
    this.reading = h("p", { class: "reading" });
    this.table = h("div", { class: "tablebox", tabindex: "0", role: "region", "aria-label": "The shown DP as a table" });
    this.tableBox = h("details", {}, h("summary", { text: "The same as a table" }), this.table);
    this.tableBox.addEventListener("toggle", () => this.fillTable());
    this.node = h(
      "section",
      { class: "now chart", "aria-labelledby": "chart-title" },
      h("div", { class: "bar" }, h("h2", { id: "chart-title", text: "DP" }), h("div", { class: "spans", role: "group", "aria-label": "How long" }, this.spans, this.now), this.moves),
      this.when,
      h("div", { class: "plot" }, this.canvas),
      this.reading,
      legend(),
      this.tableBox,
    );
  }

  /* ---- where it looks ---- */

  go(view) {
    this.view = view;
    this.draw();
    clearTimeout(this.later);
    this.later = setTimeout(() => this.ask(), 120);
  }

  zoomBy(factor, about = null) {
    const middle = this.at !== null && this.isShown(this.at) ? this.at : this.view.follows ? this.view.until : (this.view.from + this.view.until) / 2;
    this.go(zoom(this.view, factor, about ?? middle, this.app.nowS()));
  }

  isShown(t) {
    return t >= this.view.from && t <= this.view.until;
  }

  goOn() {
    if (!this.view.follows || !this.app.isLive() || document.hidden || this.fingers.size) return;
    const span = this.view.until - this.view.from;
    this.view = latest(span, this.app.nowS());
    const every = clamp(span / 400, 5, 120) * 1000;
    if (performance.now() - this.asked > every) this.ask();
    else if (span <= 3600) this.draw();
  }

  async ask() {
    this.asked = performance.now();
    const { from, until } = this.view;
    const points = clamp(Math.round(this.canvas.clientWidth || 600), 50, 1200);
    const mine = (this.question = (this.question || 0) + 1);
    try {
      const data = await get(`collectors/${encodeURIComponent(this.name)}/chart?from_utc_s=${from.toFixed(0)}&until_utc_s=${Math.ceil(until)}&points=${points}`);
      if (mine !== this.question) return;
      this.data = data;
      this.error = "";
      this.fillTable();
    } catch (error) {
      if (mine !== this.question) return;
      this.error = error.message;
    }
    this.draw();
  }

  /* The newest reading, between two answers of the watcher. */
  take(card) {
    this.card = card;
    const { data } = this;
    const { value, at_utc_s: at, quality } = card.dp;
    if (!data || data.tier !== "steps" || !this.view.follows) return;
    const last = data.rows[data.rows.length - 1];
    if (!last || at < last[0] + data.step_s || at - last[0] > 60) return;
    data.rows.push([at, value, value, value, quality === "good" ? 0 : quality === "uncertain" ? 1 : 2]);
    data.until_utc_s = Math.max(data.until_utc_s, at);
  }

  /* ---- drawing and words ---- */

  draw() {
    const { from, until, follows } = this.view;
    const span = until - from;
    this.spans.forEach((button) => setAttr(button, "aria-pressed", String(Math.abs(button.span - span) < button.span * 0.01)));
    const now = this.app.nowS();
    setText(this.when, this.error || `${moment(from, now, span < 7200)} to ${follows && this.app.isLive() ? "now" : moment(until, now, span < 7200)} (${length(span)})`);
    if (!this.data || !this.card) return;
    const paper = fit(this.canvas);
    if (!paper.width) return;
    drawChart(paper, this.data, this.card, this.view, marksOf(this.card), this.at !== null && this.isShown(this.at) ? this.at : null);
    this.say();
  }

  say() {
    const words = this.at === null || !this.isShown(this.at) ? "" : this.words(this.at);
    setText(this.reading, words || "Touch the chart, or move over it, for exact values.");
    setAttr(this.canvas, "aria-valuetext", words || "no moment chosen");
    const share = this.at === null ? 100 : ((this.at - this.view.from) / (this.view.until - this.view.from)) * 100;
    setAttr(this.canvas, "aria-valuenow", String(Math.round(clamp(share, 0, 100))));
  }

  words(at) {
    const { data } = this;
    const row = rowAt(data.rows, at, data.step_s);
    const time = `${day(at, true)} ${clock(row ? row[0] : at)}`;
    const said = [row ? rowWords(row, data.step_s) : "nothing recorded"];
    const residual = near(data.residual, at, Math.max(data.step_s * 2, 600));
    if (row && residual) said.push(`residual ${figure(residual[1])}`);
    const cycle = near(data.cleanings, at, Math.max(data.step_s * 1.5, 20));
    if (cycle) said.push(`cleaning ${figure(cycle[1])} to ${figure(cycle[2])}`);
    const reach = ((this.view.until - this.view.from) / (this.canvas.clientWidth || 600)) * 7;
    const event = near((data.events || []).map((one) => [one.at_utc_s, one]), at, reach);
    if (event) said.push(`${clock(event[0])} ${typeset(event[1].text)}`);
    return `${time}: ${said.join("; ")}`;
  }

  fillTable() {
    if (!this.tableBox.open || !this.data) return;
    const { rows, step_s } = this.data;
    const shown = thin(rows, TABLE_ROWS);
    const now = this.app.nowS();
    const row = ([t, low, high, last, quality]) => h("tr", {}, h("th", { scope: "row", text: moment(t, now) }), ...[figure(low), figure(high), figure(last), QUALITY[quality]].map((text) => h("td", { text })));
    const each = shown.length > 1 ? shown[1][0] - shown[0][0] : step_s;
    const head = ["From", "Lowest", "Highest", "Last", "Quality"].map((text) => h("th", { scope: "col", text }));
    this.table.replaceChildren(h("table", {}, h("caption", { text: `DP in inH₂O, each row about ${length(each)}` }), h("thead", {}, h("tr", {}, head)), h("tbody", {}, shown.map(row))));
  }

  /* ---- hands ---- */

  timeAt(event) {
    const box = this.canvas.getBoundingClientRect();
    const { left, right } = plot(box.width);
    return linear(left, right, this.view.from, this.view.until)(clamp(event.clientX - box.left, left, right));
  }

  perPixel() {
    const { left, right } = plot(this.canvas.clientWidth);
    return (this.view.until - this.view.from) / Math.max(1, right - left);
  }

  listen() {
    const { canvas } = this;
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (event) => this.up(event));
    canvas.addEventListener("keydown", (event) => this.key(event));
    canvas.addEventListener("dblclick", (event) => this.zoomBy(0.4, this.timeAt(event)));
    canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
  }

  down(event) {
    this.fingers.set(event.pointerId, { x: event.clientX, startX: event.clientX });
    this.canvas.setPointerCapture?.(event.pointerId);
    if (this.fingers.size === 2) this.pinch = { gap: this.gap(), view: this.view };
    this.point(this.timeAt(event));
  }

  move(event) {
    const finger = this.fingers.get(event.pointerId);
    if (!finger) {
      if (event.pointerType === "mouse") this.point(this.timeAt(event));
      return;
    }
    const by = event.clientX - finger.x;
    finger.x = event.clientX;
    if (this.fingers.size === 2) this.spread();
    else if (finger.drags || Math.abs(event.clientX - finger.startX) > 6) {
      finger.drags = true;
      this.go(pan(this.view, -by * this.perPixel(), this.app.nowS()));
    }
  }

  gap() {
    const [a, b] = [...this.fingers.values()];
    return Math.max(20, Math.abs(a.x - b.x));
  }

  spread() {
    const [a, b] = [...this.fingers.values()];
    const middle = this.timeAt({ clientX: (a.x + b.x) / 2 });
    const gap = this.gap();
    this.go(zoom(this.view, this.pinch.gap / gap, middle, this.app.nowS()));
    this.pinch.gap = gap;
  }

  up(event) {
    this.fingers.delete(event.pointerId);
  }

  point(t) {
    this.at = t;
    this.soon ||= requestAnimationFrame(() => {
      this.soon = 0;
      this.draw();
    });
  }

  /* The wheel scrolls the page; over a chosen chart, or with Ctrl, it zooms; sideways it moves. */
  wheel(event) {
    const isSideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
    if (!isSideways && !event.ctrlKey && document.activeElement !== this.canvas) return;
    event.preventDefault();
    if (isSideways) this.go(pan(this.view, event.deltaX * this.perPixel(), this.app.nowS()));
    else this.zoomBy(1.0015 ** clamp(event.deltaY, -300, 300), this.timeAt(event));
  }

  key(event) {
    const span = this.view.until - this.view.from;
    const step = Math.max(this.data?.step_s || 1, span / 200) * (event.shiftKey ? 10 : 1);
    const from = this.at === null || !this.isShown(this.at) ? this.view.until : this.at;
    const now = this.app.nowS();
    const acts = {
      ArrowLeft: () => this.point(Math.max(this.view.from, from - step)),
      ArrowRight: () => this.point(Math.min(this.view.until, from + step)),
      ArrowDown: () => this.point(Math.max(this.view.from, from - step)),
      ArrowUp: () => this.point(Math.min(this.view.until, from + step)),
      Home: () => this.point(this.view.from),
      End: () => this.point(this.view.until),
      PageUp: () => this.go(pan(this.view, -span / 2, now)),
      PageDown: () => this.go(pan(this.view, span / 2, now)),
      "+": () => this.zoomBy(0.5),
      "=": () => this.zoomBy(0.5),
      "-": () => this.zoomBy(2),
    };
    const act = event.ctrlKey || event.metaKey || event.altKey ? null : acts[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  gone() {
    clearInterval(this.follow);
    clearTimeout(this.later);
    this.resize.disconnect();
  }
}

function near(list, at, reach) {
  let found = null;
  for (const one of list || []) if (Math.abs(one[0] - at) <= reach && (!found || Math.abs(one[0] - at) < Math.abs(found[0] - at))) found = one;
  return found;
}

function rowWords([, low, high, last, quality], stepS) {
  if (low === null) return "no reading";
  const doubt = quality ? ` (${QUALITY[quality]})` : "";
  if (high - low < 0.005) return `DP ${figure(last ?? high)} inH₂O${doubt}`;
  return `DP ${figure(low)} to ${figure(high)}, last ${figure(last)} inH₂O in ${length(stepS)}${doubt}`;
}

function legend() {
  const one = (kind, words) => h("li", {}, h("i", { class: `key ${kind}` }), words);
  return h("ul", { class: "legend", "aria-label": "What the lines mean" }, one("dpkey", "DP, lowest to highest"), one("reskey", "residual"), one("setkey", "set point"), one("cleankey", "cleaning"), one("eventkey", "event"), one("badkey", "no good reading"), one("gapkey", "nothing recorded"));
}
