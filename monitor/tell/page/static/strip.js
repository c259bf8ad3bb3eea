/* Strip: one collector as a strip of recorder paper: its name, its DP, the last hours, and the pen where it stands now. */

import { fit, h, setAttr, setHidden, setText, sign } from "./dom.js";
import { STATE_WORDS, capital, clock, figure, priorityWord, qualityWords, short, typeset } from "./words.js";

/* How paper is drawn comes after the first view: figures and states are there before it. */
let paper = null;
export function takePaper(drawing) {
  paper = drawing;
}

export function stateSign(card) {
  return card.state === "alarm" ? card.worst || "low" : card.state;
}

export function stateWord(card) {
  if (card.state !== "alarm") return STATE_WORDS[card.state] || capital(card.state);
  const seen = card.unacknowledged ? "" : ", acknowledged";
  return `${priorityWord(card.worst)} alarm${seen}`;
}

/* The set points, as lines on the paper. */
export function marksOf(card) {
  const marks = (card.bands || []).map((band) => ({ value: band.setpoint, priority: band.priority, text: `${band.side === "above" ? "above" : "below"} ${short(band.setpoint)}` }));
  const { start, stop } = card.cleaning || {};
  if (Number.isFinite(start)) marks.push({ value: start, text: `start ${short(start)}` });
  if (Number.isFinite(stop)) marks.push({ value: stop, text: `stop ${short(stop)}` });
  return marks;
}

/* Where the DP stands, for who does not see the pen. */
export function positionWords(card) {
  const value = card.dp.value;
  if (value === null) return "";
  const words = marksOf(card).sort((a, b) => a.value - b.value).map((mark) => `${mark.priority ? `${mark.priority} alarm ` : "cleaning "}${mark.text}`);
  return words.length ? `Marks: ${words.join(", ")} inH₂O.` : "";
}

export class Strip {
  constructor(card, seen) {
    this.build(card);
    this.trend = null;
    this.times = null;
    this.view = null;
    this.visible = false;
    this.seen = seen;
    seen?.observe(this.node);
    this.node.strip = this;
    this.update(card);
  }

  build(card) {
    this.mark = sign("normal");
    this.word = h("span", { class: "word" });
    this.value = h("b", { class: "value" });
    this.quality = h("p", { class: "quality", hidden: true });
    this.says = h("p", { class: "says" });
    this.held = h("ul", { class: "held", hidden: true });
    this.position = h("span", { class: "heard" });
    this.canvas = h("canvas", { "aria-hidden": "true" });
    this.pen = h("span", { class: "pen", "aria-hidden": "true" });
    this.scrap = h("div", { class: "paper" }, this.canvas, this.pen);
    this.description = h("span", { class: "what" });
    const name = h("h3", {}, h("a", { href: `#/${encodeURIComponent(card.name)}` }, h("span", { class: "name", text: card.name })), this.description);
    this.node = h(
      "article",
      { class: "strip" },
      h("div", { class: "head" }, name, h("p", { class: "dp" }, this.value, h("span", { class: "unit", text: "inH₂O" }), this.position)),
      this.scrap,
      h("p", { class: "state" }, this.mark, this.word),
      this.says,
      this.quality,
      this.held,
    );
  }

  update(card) {
    const was = this.card;
    this.card = card;
    setAttr(this.node, "data-state", card.state);
    setAttr(this.node, "data-worst", card.worst);
    setAttr(this.node, "data-quality", card.dp.quality);
    setAttr(this.node, "data-unanswered", card.unacknowledged > 0);
    setText(this.description, card.description || "");
    setText(this.value, card.dp.value === null ? "no reading" : figure(card.dp.value));
    this.mark.show(stateSign(card));
    setText(this.word, stateWord(card));
    setText(this.says, typeset(capital(card.says || "")));
    setHidden(this.says, /^normal\.?$/i.test(card.says || ""));
    const lastGood = card.dp.quality === "bad" && card.dp.last_good_utc_s ? `; last good at ${clock(card.dp.last_good_utc_s)}` : "";
    const quality = qualityWords(card.dp);
    setText(this.quality, quality + lastGood);
    setHidden(this.quality, !quality);
    setText(this.position, positionWords(card));
    this.showHeld(card.held || []);
    this.grow(card.dp);
    if (!was || this.isOffPaper(card)) this.rescale();
    else this.movePen();
  }

  showHeld(held) {
    const key = held.map((one) => one.tag + one.says).join("|");
    if (key === this.heldKey) return;
    this.heldKey = key;
    setHidden(this.held, !held.length);
    this.held.replaceChildren(...held.map((one) => h("li", {}, sign("held"), h("span", { text: `${one.tag}: ${typeset(one.says)}` }))));
  }

  /* The last piece of the trend grows with each reading until the watcher sends the whole anew. */
  grow(dp) {
    const trend = this.trend;
    if (!trend || dp.value === null || dp.value === undefined) return;
    const last = trend.low.length - 1;
    const low = trend.low[last] === null ? dp.value : Math.min(trend.low[last], dp.value);
    const high = trend.high[last] === null ? dp.value : Math.max(trend.high[last], dp.value);
    if (low !== trend.low[last] || high !== trend.high[last]) {
      trend.low[last] = low;
      trend.high[last] = high;
      this.stale = true;
    }
  }

  takeTrend(trend, times) {
    this.trend = trend;
    this.times = times;
    this.rescale();
  }

  isOffPaper({ dp }) {
    return this.view && dp.value !== null && (dp.value > this.view.high || dp.value < this.view.low);
  }

  rescale() {
    if (!paper) return;
    const lows = (this.trend?.low || []).filter((one) => one !== null);
    const highs = (this.trend?.high || []).filter((one) => one !== null);
    this.view = paper.worthShowing(this.card, lows.length ? Math.min(...lows) : undefined, highs.length ? Math.max(...highs) : undefined);
    this.draw();
  }

  draw() {
    this.stale = false;
    this.drawnMs = performance.now();
    if (!paper || !this.visible || !this.times) return;
    const sheet = fit(this.canvas);
    if (!sheet.width) return;
    this.height = sheet.height;
    paper.drawTrend(sheet, this.trend, this.times, this.view, marksOf(this.card));
    this.movePen();
  }

  movePen() {
    const { value } = this.card.dp;
    setHidden(this.pen, value === null || !this.height);
    if (value === null || !this.height) return;
    const at = paper.linear(this.view.low, this.view.high, this.height - paper.bottom(), paper.top())(value);
    const place = `translateY(${at.toFixed(1)}px)`;
    if (place !== this.penAt) {
      this.penAt = place;
      this.pen.style.transform = place;
    }
  }

  show(visible) {
    this.visible = visible;
    if (visible) this.draw();
  }

  gone() {
    this.seen?.unobserve(this.node);
  }
}
