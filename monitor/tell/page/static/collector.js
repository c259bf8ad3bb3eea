/* Collector: one collector in full: its DP over time, what to check, its alarms and what can be done, its points, what happened. */

import { get } from "./api.js";
import { AlarmItem, act } from "./alarms.js";
import { Chart } from "./chart.js";
import { h, keep, setAttr, setHidden, setText, sign, toast } from "./dom.js";
import { stateSign, stateWord } from "./strip.js";
import { forgetPalette } from "./trend.js";
import { capital, clock, figure, happenedWord, moment, priorityWord, qualityWords, spaced, typeset, unitWord } from "./words.js";

const ROLES = { dp: "DP", fan_running: "Fan", header_pressure: "Header pressure", air_flow: "Air flow", cleaning_active: "Cleaning" };

export class Collector {
  constructor(app, name, main) {
    this.app = app;
    this.name = name;
    this.title = name;
    this.items = new Map();
    this.options = { toast, all: true, isWithin: true, refuge: () => this.alarmsTitle };
    const card = app.cards.get(name);
    if (!card) {
      main.replaceChildren(h("h1", { text: `There is no collector ${name} here` }), h("p", {}, h("a", { class: "back", href: "#/", text: "To the yard" })));
      this.missing = true;
      return;
    }
    this.build(main, card);
    this.showCard(card);
    this.alarms();
    this.chart.ask();
    this.ask();
    this.themed = () => {
      forgetPalette();
      this.chart.draw();
    };
    addEventListener("cakewatch-theme", this.themed);
    this.dark = matchMedia("(prefers-color-scheme: dark)");
    this.dark.addEventListener("change", this.themed);
  }

  build(main, card) {
    this.mark = sign("normal");
    this.word = h("span", { class: "word" });
    this.value = h("b", { class: "value" });
    this.says = h("p", { class: "says" });
    this.facts = h("p", { class: "says" });
    this.quality = h("p", { class: "quality", hidden: true });
    this.held = h("ul", { class: "held", hidden: true });
    this.chart = new Chart(this.app, this.name);
    this.alarmsTitle = h("h2", { text: "Alarms", tabindex: "-1" });
    this.list = h("ul", { class: "alarms" });
    this.quiet = h("ul", { class: "alarms" });
    this.quietItems = new Map();
    this.quietTitle = h("summary");
    this.quietBox = h("details", {}, this.quietTitle, this.quiet);
    this.checks = h("section", { class: "now card" });
    this.points = h("section", { class: "now card" });
    this.outlook = h("section", { class: "now card" });
    this.events = h("section", { class: "now card" });
    this.calm = h("p", { class: "note", text: "None of them needs anybody." });
    this.head = h(
      "div",
      { class: "now card headcard" },
      h("div", {}, h("p", { class: "state" }, this.mark, this.word), this.says, this.quality, this.held, this.facts),
      h("p", { class: "dp" }, this.value, h("span", { class: "unit", text: "inH₂O" })),
    );
    main.replaceChildren(
      h("nav", { "aria-label": "Back" }, h("a", { class: "back", href: "#/", text: "‹ The yard" })),
      h("h1", {}, h("span", { text: this.name }), h("span", { class: "what", text: [card.description, card.area].filter(Boolean).join(", ") })),
      h(
        "div",
        { class: "one" },
        this.head,
        h("section", { class: "now card alarmcard" }, this.alarmsTitle, this.calm, this.list, this.quietBox),
        this.chart.node,
        this.checks,
        this.outlook,
        this.points,
        this.events,
      ),
    );
    for (const box of [this.checks, this.points, this.outlook, this.events]) box.hidden = true;
  }

  showCard(card) {
    setAttr(this.head, "data-state", card.state);
    setAttr(this.head, "data-worst", card.worst);
    setAttr(this.head, "data-quality", card.dp.quality);
    setAttr(this.head, "data-unanswered", card.unacknowledged > 0);
    this.mark.show(stateSign(card));
    setText(this.word, stateWord(card));
    setText(this.value, card.dp.value === null ? "no reading" : figure(card.dp.value));
    setText(this.says, typeset(capital(card.says)));
    setHidden(this.says, /^normal\.?$/i.test(card.says));
    const quality = qualityWords(card.dp);
    const lastGood = card.dp.quality === "bad" && card.dp.last_good_utc_s ? `; last good at ${moment(card.dp.last_good_utc_s, this.app.nowS())}` : "";
    setText(this.quality, quality + (card.dp.detail && quality ? ` (${card.dp.detail})` : "") + lastGood);
    setHidden(this.quality, !quality);
    setText(this.facts, factWords(card));
    this.showHeld(card.held || []);
    this.chart.take(card);
    if (!this.card) this.chart.draw();
    this.card = card;
  }

  showHeld(held) {
    const key = JSON.stringify(held);
    if (key === this.heldKey) return;
    this.heldKey = key;
    setHidden(this.held, !held.length);
    this.held.replaceChildren(...held.map((one) => h("li", {}, sign("held"), h("span", { text: `${one.tag}: ${typeset(one.says)}` }))));
  }

  /* ---- what comes in ---- */

  changed(names) {
    if (this.missing || !names.includes(this.name)) return;
    const card = this.app.cards.get(this.name);
    if (card) this.showCard(card);
    this.askSoon(15000);
  }

  plant() {
    if (this.missing) return;
    const card = this.app.cards.get(this.name);
    if (card) this.showCard(card);
    this.alarms();
    this.ask();
    this.chart.ask();
  }

  event(event) {
    if (!this.missing && event.collector === this.name) this.askSoon(400);
  }

  /* The list of the whole site tells of changes at once; the normal ones come with the rest. */
  alarms() {
    if (this.missing) return;
    const told = new Map(this.app.alarms.filter((one) => one.collector === this.name).map((one) => [one.tag, one]));
    const known = (this.detail?.alarms || []).filter((one) => !told.has(one.tag)).map((one) => (one.state === "normal" ? one : { ...one, state: "normal", active: false, since: null }));
    this.fill(this.list, this.items, [...told.values()]);
    this.fill(this.quiet, this.quietItems, known);
    setHidden(this.calm, told.size > 0);
    setHidden(this.quietBox, !known.length);
    setText(this.quietTitle, `${known.length} normal`);
    this.askSoon(400);
  }

  fill(list, known, alarms) {
    keep(list, known, alarms, (one) => one.tag, (alarm) => new AlarmItem(this.app, alarm, this.options), (item, alarm) => item.update(alarm));
    setHidden(list, !alarms.length);
  }

  live() {
    this.chart?.draw();
  }

  who() {
    if (this.missing) return;
    for (const item of [...this.items.values(), ...this.quietItems.values()]) item.showButtons();
    this.showOutlook();
  }

  askSoon(ms) {
    const due = performance.now() + ms;
    if (this.later && this.due <= due) return;
    clearTimeout(this.later);
    this.due = due;
    this.later = setTimeout(() => this.ask(), ms);
  }

  async ask() {
    clearTimeout(this.later);
    this.later = null;
    try {
      this.detail = await get(`collectors/${encodeURIComponent(this.name)}`);
    } catch {
      return;
    }
    if (this.isGone) return;
    this.showChecks();
    this.showPoints();
    this.showOutlook();
    this.showEvents();
    const quiet = this.detail.alarms.filter((one) => !this.app.alarms.some((told) => told.tag === one.tag));
    this.fill(this.quiet, this.quietItems, quiet);
    setHidden(this.quietBox, !quiet.length);
    setText(this.quietTitle, `${quiet.length} normal`);
  }

  /* ---- the parts ---- */

  part(box, key, isThere, make) {
    setHidden(box, !isThere);
    if (box.key === key || !isThere) return;
    box.key = key;
    box.replaceChildren(...make());
  }

  showChecks() {
    const { checks, signs } = this.detail;
    this.part(this.checks, JSON.stringify([checks, signs]), checks.length || signs.length, () => [
      h("h2", { text: "What to check" }),
      h("ol", { class: "checks" }, checks.map(checkItem)),
      signs.length ? h("h3", { text: "Early signs" }) : null,
      signs.length ? h("ul", { class: "lines" }, signs.map((one) => h("li", { text: capital(typeset(one.says)) }))) : null,
    ].filter(Boolean));
  }

  showPoints() {
    const { points } = this.detail;
    const row = (one) => h("tr", {}, h("th", { scope: "row" }, ROLES[one.role] || capital(spaced(one.role)), " ", h("span", { class: "tag", text: one.tag })), h("td", { text: pointWords(one) }), h("td", { text: clock(one.at_utc_s) }));
    this.part(this.points, JSON.stringify(points), points.length, () => [
      h("h2", { text: "Points" }),
      h("table", {}, h("thead", {}, h("tr", {}, ["Point", "Reads", "At"].map((text) => h("th", { scope: "col", text })))), h("tbody", {}, points.map(row))),
    ]);
  }

  showOutlook() {
    if (!this.detail) return;
    const { air } = this.detail;
    const forecast = this.card?.forecast;
    const mayChange = this.app.me.may.includes("filters_changed");
    this.part(this.outlook, JSON.stringify([air, forecast, mayChange]), air || forecast || mayChange, () => [
      h("h2", { text: "Filters and air" }),
      h("ul", { class: "lines" }, [forecast, ...(air?.sentences || [])].filter(Boolean).map((text) => h("li", { text: capital(typeset(text)) }))),
      mayChange && h("div", { class: "buttons" }, h("button", { type: "button", text: "New filters were put in …", onclick: () => act(this.app, "filters_changed", { name: this.name }, this.options) })),
    ].filter(Boolean));
  }

  showEvents() {
    const { events } = this.detail;
    const now = this.app.nowS();
    const item = (one) => h("li", {}, h("time", { text: moment(one.at_utc_s, now), datetime: new Date(one.at_utc_s * 1000).toISOString() }), h("p", {}, h("b", { text: happenedWord(one.happened) + (one.priority ? `, ${priorityWord(one.priority).toLowerCase()}` : "") }), ` ${typeset(one.text)}`));
    this.part(this.events, events.map((one) => one.seq).join(), events.length, () => [h("h2", { text: "What happened" }), h("ol", { class: "events" }, events.map(item))]);
  }

  gone() {
    this.isGone = true;
    if (this.missing) return;
    clearTimeout(this.later);
    this.chart.gone();
    removeEventListener("cakewatch-theme", this.themed);
    this.dark.removeEventListener("change", this.themed);
  }
}

function factWords(card) {
  const words = [];
  if (card.residual !== null) words.push(`residual ${figure(card.residual)}`);
  if (card.average !== null) words.push(`average ${figure(card.average)} inH₂O`);
  if (card.fan === "running" || card.fan === "stopped") words.push(`fan ${card.fan}`);
  if (card.cleaning_now) words.push("cleaning now");
  if (card.link) words.push(`link ${card.link}`);
  return capital(words.join(", "));
}

function pointWords(point) {
  const { value, unit } = point;
  const said = value === null ? "" : typeof value === "boolean" ? (value ? "yes" : "no") : `${figure(value)} ${unitWord(unit)}`.trim();
  const doubt = qualityWords(point);
  return [said, doubt && (said ? `(${doubt})` : doubt)].filter(Boolean).join(" ");
}

function checkItem(one) {
  const share = Number.isFinite(one.share) ? ` (${Math.round(one.share * 100)} % likely)` : "";
  return h(
    "li",
    {},
    h("p", {}, h("b", { text: capital(typeset(one.title)) }), h("span", { class: "tag", text: `${share} ${one.tag || ""}` })),
    h("p", { class: "look", text: capital(typeset(one.check)) }),
    one.why?.length ? h("p", { class: "how", text: `Because ${typeset(one.why.join("; "))}` }) : null,
    one.caution ? h("p", { class: "caution" }, sign("high"), h("span", { text: capital(typeset(one.caution)) })) : null,
  );
}
