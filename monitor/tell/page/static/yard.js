/* Yard: every collector at a glance, the alarms, the links. */

import { AlarmPanel } from "./alarms.js";
import { h, keep, setAttr, setHidden, setText, sign, toast } from "./dom.js";
import { Strip, takePaper } from "./strip.js";
import { typeset } from "./words.js";

const MANY = 8;
const DENSE = 30;
const BATCH = 40;
const REDRAW_MS = 5000;
const LATE_MS = 40;
const LATE_EACH = 10;

/* What only trends need is not waited for by the first view. */
const trendsWay = async () => {
  const [api, drawing] = await Promise.all([import("./api.js"), import("./trend.js")]);
  takePaper(drawing);
  return { get: api.get, drawing };
};

const needsSomebody = (card) => !["normal"].includes(card.state) || card.dp.quality !== "good";

export class Yard {
  constructor(app, main) {
    this.app = app;
    this.strips = new Map();
    this.areas = new Map();
    this.wanted = new Set();
    this.filter = app.filter || "all";
    this.search = "";
    this.panel = new AlarmPanel(app, toast);
    this.seen = new IntersectionObserver((entries) => this.appear(entries), { rootMargin: "200px" });
    this.build(main);
    this.plant();
    this.redraws = setInterval(() => this.redrawOne(), 250);
    this.late = new Set();
    this.resized = () => this.each((strip) => strip.draw());
    this.reshaped = () => this.themed();
    addEventListener("resize", this.reshaped);
    this.themed = async () => {
      const { drawing } = await trendsWay();
      drawing.forgetPalette();
      this.resized();
    };
    addEventListener("cakewatch-theme", this.themed);
    this.dark = matchMedia("(prefers-color-scheme: dark)");
    this.dark.addEventListener("change", this.themed);
  }

  build(main) {
    this.links = h("ul", { class: "links" });
    this.linksBox = h("section", { class: "linkbox", "aria-label": "Links and outlets" }, this.links);
    this.needs = this.choice("needs");
    this.all = this.choice("all");
    this.box = h("input", { type: "search", id: "search", autocomplete: "off", placeholder: "Name, area, tag" });
    this.box.addEventListener("input", () => {
      this.search = this.box.value.trim().toLowerCase();
      this.arrange();
    });
    this.searchBox = h("div", { class: "search" }, h("label", { for: "search", text: "Find" }), this.box);
    this.none = h("p", { class: "none", role: "status", hidden: true });
    this.body = h("div", { class: "areas" });
    const bar = h("div", { class: "bar" }, h("h2", { text: "Collectors" }), h("div", { class: "choices", role: "group", "aria-label": "Which collectors" }, this.all, this.needs), this.searchBox);
    main.replaceChildren(
      h("h1", { class: "heard", text: `The yard of ${this.app.plant.site.name}` }),
      h("div", { class: "yard" }, this.panel.node, h("div", { class: "rest" }, this.linksBox, bar, this.none, this.body)),
    );
  }

  choice(which) {
    const button = h("button", { type: "button" });
    button.addEventListener("click", () => {
      this.filter = which;
      this.app.filter = which;
      this.arrange();
    });
    return button;
  }

  plant() {
    this.arrange();
    this.panel.update();
    this.showLinks();
    this.each((strip) => this.wanted.add(strip.card.name), true);
    this.askTrends();
  }

  /* What is on the screen changes at once; the rest a few at a time, and at the latest when it comes into sight. */
  changed(names) {
    let regroup = false;
    for (const name of names) {
      const strip = this.strips.get(name);
      const card = this.app.cards.get(name);
      if (!strip) {
        regroup = true;
        continue;
      }
      regroup ||= needsSomebody(strip.card) !== needsSomebody(card);
      if (strip.visible) strip.update(card);
      else this.late.add(strip);
    }
    if (this.late.size && !this.catching) this.catching = setTimeout(() => this.catchUp(), LATE_MS);
    this.showLinks();
    if (regroup) this.arrange();
  }

  catchUp() {
    this.catching = null;
    let left = LATE_EACH;
    for (const strip of this.late) {
      if (left === 0) break;
      left -= 1;
      this.late.delete(strip);
      this.bring(strip);
    }
    if (this.late.size) this.catching = setTimeout(() => this.catchUp(), LATE_MS);
  }

  bring(strip) {
    const card = this.app.cards.get(strip.card.name);
    if (card && card !== strip.card) strip.update(card);
  }

  alarms() {
    this.panel.update();
  }

  who() {
    this.panel.update();
  }

  /* Which strips stand where: areas in the order of the site file, as do the collectors within. */
  arrange() {
    const cards = this.app.plant.collectors;
    const needing = cards.filter(needsSomebody).length;
    setText(this.all, `All ${cards.length}`);
    setText(this.needs, `Needs somebody ${needing}`);
    setAttr(this.all, "aria-pressed", String(this.filter === "all"));
    setAttr(this.needs, "aria-pressed", String(this.filter === "needs"));
    setHidden(this.searchBox, cards.length <= MANY);
    setAttr(this.body, "data-dense", cards.length > DENSE);
    const shown = cards.filter((card) => this.isShown(card));
    this.sayNone(shown.length, cards.length);
    const groups = new Map();
    for (const card of shown) groups.set(card.area || "", [...(groups.get(card.area || "") || []), card]);
    keep(this.body, this.areas, [...groups], (one) => one[0], (one) => this.area(one[0]), (area, one) => this.fillArea(area, one[1]));
  }

  isShown(card) {
    if (this.filter === "needs" && !needsSomebody(card)) return false;
    if (!this.search) return true;
    return [card.name, card.area, card.description, card.dp.tag, card.link].join(" ").toLowerCase().includes(this.search);
  }

  sayNone(shown, all) {
    setHidden(this.none, shown > 0);
    const words = this.search ? "No collector is called that." : this.filter === "needs" ? `None of the ${all} collectors needs anybody.` : "There is no collector yet.";
    setText(this.none, shown ? "" : words);
  }

  area(name) {
    const grid = h("div", { class: "strips" });
    const title = h("h3", { class: "areaname", text: name });
    const node = h("section", { class: "area", "aria-label": name || "Collectors" }, name ? title : null, grid);
    return { node, grid, known: new Map() };
  }

  fillArea(area, cards) {
    const make = (card) => {
      const strip = new Strip(card, this.seen);
      this.strips.set(card.name, strip);
      return strip;
    };
    keep(area.grid, area.known, cards, (card) => card.name, make, (strip, card) => strip.card !== card && strip.update(card));
  }

  each(tell, always = false) {
    for (const area of this.areas.values()) for (const strip of area.known.values()) if (always || strip.visible) tell(strip);
  }

  /* Trends are asked for only of strips that are, or soon will be, on the screen. */
  appear(entries) {
    for (const { target, isIntersecting } of entries) {
      const { strip } = target;
      if (isIntersecting && !strip.times) this.wanted.add(strip.card.name);
      if (isIntersecting) this.bring(strip);
      strip.show(isIntersecting);
    }
    this.askTrends();
  }

  askTrends() {
    if (this.asking) return;
    this.asking = setTimeout(() => this.fetchTrends(), 30);
  }

  async fetchTrends() {
    const names = [...this.wanted].filter((name) => this.strips.get(name)?.visible).slice(0, BATCH);
    names.forEach((name) => this.wanted.delete(name));
    try {
      const { get } = await trendsWay();
      const asked = names.length;
      if (asked) this.takeTrends(await get(`trends?${names.map((name) => `collector=${encodeURIComponent(name)}`).join("&")}`), asked);
    } catch {
      names.forEach((name) => this.wanted.add(name));
      this.asking = null;
      return;
    }
    this.asking = null;
    // Also those that came into sight while the others were asked for.
    if ([...this.wanted].some((name) => this.strips.get(name)?.visible)) this.askTrends();
  }

  takeTrends(body, asked) {
    const { step_s, start_utc_s, count } = body;
    for (const [name, trend] of Object.entries(body.collectors)) {
      this.strips.get(name)?.takeTrend(trend, { step_s, start_utc_s, count });
    }
    // A watcher that has just started fills in the hours before by and by: where there are next to none, soon again.
    const known = Object.values(body.collectors);
    const isYoung = known.length < asked || known.some((trend) => trend.low.filter(Number.isFinite).length < 3);
    this.youngS = isYoung ? Math.min(step_s, (this.youngS || 2.5) * 2) : 0;
    if (isYoung) this.next(this.app.nowS() + this.youngS, step_s, 2);
    else this.next(start_utc_s + count * step_s, step_s);
  }

  /* All anew when the running piece is full, not all pages of a site at the same moment. */
  next(endS, stepS, spreadS = Math.min(20, stepS / 10)) {
    clearTimeout(this.refresh);
    const wait = Math.max(5, endS - this.app.nowS()) + Math.random() * spreadS;
    this.refresh = setTimeout(() => {
      this.each((strip) => this.wanted.add(strip.card.name), true);
      this.askTrends();
    }, Math.min(wait, stepS + 30) * 1000);
  }

  /* One at a time, so that no moment has to draw them all. */
  redrawOne() {
    const now = performance.now();
    for (const area of this.areas.values()) {
      for (const strip of area.known.values()) {
        if (!strip.visible || !strip.stale || now - strip.drawnMs < REDRAW_MS) continue;
        strip.draw();
        return;
      }
    }
  }

  showLinks() {
    const { links, outlets } = this.app.plant;
    const key = JSON.stringify([links, outlets]);
    if (key === this.linkKey) return;
    this.linkKey = key;
    const told = [...links.map(linkWords), ...Object.entries(outlets || {}).map(outletWords)].filter(Boolean);
    const bad = told.filter((one) => !one.ok);
    const good = told.filter((one) => one.ok);
    this.links.replaceChildren(
      ...bad.map((one) => h("li", { class: "bad" }, sign("lost"), h("span", { text: one.text }))),
      ...(good.length ? [h("li", {}, sign("normal"), h("span", { text: `${bad.length ? "Well" : "All well"}: ${good.map((one) => one.name).join(", ")}` }))] : []),
    );
  }

  gone() {
    clearTimeout(this.refresh);
    clearTimeout(this.asking);
    clearTimeout(this.catching);
    clearInterval(this.redraws);
    this.seen.disconnect();
    removeEventListener("resize", this.reshaped);
    removeEventListener("cakewatch-theme", this.themed);
    this.dark.removeEventListener("change", this.themed);
  }
}

function linkWords({ name, connected, error }) {
  const words = connected === null ? "not tried yet" : error || "not connected";
  return { name, ok: connected === true, text: `Link ${name}: ${typeset(words)}` };
}

const OUTLETS = { mqtt: "MQTT", phone: "phones", journal: "journal" };

function outletWords([name, outlet]) {
  if (!outlet) return null;
  const waiting = outlet.waiting ? `${outlet.waiting} messages wait` : "";
  return { name: OUTLETS[name] || name, ok: outlet.ok, text: `${OUTLETS[name] || name}: ${outlet.error || waiting || "does not work"}` };
}
