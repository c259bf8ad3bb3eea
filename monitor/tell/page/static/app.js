/* App: what is known of the plant, which view is shown, and whether it is live. */

import { remembered, setAttr, setHidden, setText } from "./dom.js";
import { Live } from "./live.js";
import { alarmPlace, alarmSubject, clock, isUnanswered, moment, priorityWord } from "./words.js";
import { Yard } from "./yard.js";

const at = (id) => document.getElementById(id);

export const app = {
  plant: null,
  cards: new Map(),
  alarms: [],
  me: { person: "", how: "machine", may: [], login_needed: false, can_login: false, csrf: null },
  live: null,
  view: null,
  nowS: () => Date.now() / 1000,
  isLive: () => document.body.dataset.live === "yes",
};

const unanswered = new Set();
let firstAlarms = true;

/* ---- what comes in ---- */

function tell(kind, body) {
  if (kind === "plant") takePlant(body);
  if (kind === "values") takeValues(body.dp);
  if (kind === "cards") takeCards(body);
  if (kind === "alarms") takeAlarms(body.alarms);
  if (kind === "event") app.view?.event?.(body);
}

function takePlant(plant) {
  app.plant = plant;
  app.cards = new Map(plant.collectors.map((card) => [card.name, card]));
  app.alarms = plant.alarms;
  setText(at("site"), plant.site.name);
  announce();
  if (!app.view) route();
  else app.view.plant();
  retitle();
}

const RANKS = ["good", "uncertain", "bad"];

/* The figures alone: put into copies of the cards, so that a view sees which have changed. */
function takeValues(told) {
  if (!app.plant) return;
  const collectors = [];
  for (const [name, [value, rank, at_utc_s, residual, average]] of Object.entries(told)) {
    const card = app.cards.get(name);
    if (!card) continue;
    const dp = { ...card.dp, value, quality: RANKS[rank] || "bad", at_utc_s };
    if (rank === 0) dp.last_good_utc_s = at_utc_s;
    collectors.push({ ...card, dp, residual, average });
  }
  takeCards({ collectors });
}

function takeCards(body) {
  if (!app.plant) return;
  for (const card of body.collectors) app.cards.set(card.name, card);
  app.plant.collectors = app.plant.collectors.map((card) => app.cards.get(card.name));
  if (body.links) app.plant.links = body.links;
  if (body.outlets) app.plant.outlets = body.outlets;
  app.view?.changed(body.collectors.map((card) => card.name));
}

function takeAlarms(alarms) {
  app.alarms = alarms;
  announce();
  app.view?.alarms();
  retitle();
}

/* ---- live or not ---- */

const WHY = {
  starting: "Connecting to the watcher …",
  lost: "The connection to the watcher is lost; this page goes on trying by itself.",
  silent: "The watcher has gone silent; this page goes on trying by itself.",
  stuck: "The watcher is there, but is itself stuck:",
};

function showLive(status, isNews) {
  setText(at("heard"), status.heardS === null ? "connecting" : clock(status.heardS));
  if (!isNews && status.live) return;
  document.body.dataset.live = status.live ? "yes" : "no";
  setText(at("lamp-word"), status.live ? "Live" : "Not live");
  setAttr(at("lamp"), "href", status.live ? "#s-live" : "#s-lost");
  const isFirst = status.why === "starting";
  setHidden(at("banner"), status.live || isFirst || document.body.dataset.login === "yes");
  if (!status.live) setText(at("banner"), notLive(status));
  app.view?.live?.(status.live);
  retitle();
}

function notLive(status) {
  const heard = status.heardS === null ? "Not live: nothing has been heard yet." : `Not live: last heard at ${moment(status.heardS, app.nowS())}; what you see is old.`;
  return `${heard} ${WHY[status.why] || ""}${status.why === "stuck" ? ` ${status.stuck}.` : ""}`;
}

function retitle() {
  const name = app.plant?.site.name || "cakewatch";
  const count = app.alarms.filter((one) => one.active).length;
  const where = app.view?.title ? `${app.view.title} – ${name}` : name;
  const live = app.isLive();
  const title = live ? (count ? `${count} alarm${count > 1 ? "s" : ""} – ${where}` : where) : `NOT LIVE – ${where}`;
  if (document.title !== title) document.title = title;
  setAttr(at("icon"), "href", `/page/icon${live ? (count ? "-alarm" : "") : "-lost"}.svg`);
}

/* ---- told to a screen reader: what is new, once, and many as one ---- */

function announce() {
  const now = app.alarms.filter((one) => one.active && isUnanswered(one));
  const fresh = now.filter((one) => !unanswered.has(one.tag));
  unanswered.clear();
  for (const one of now) unanswered.add(one.tag);
  if (firstAlarms) {
    firstAlarms = false;
    return;
  }
  if (!fresh.length) return;
  const first = fresh[0];
  const what = `${priorityWord(first.priority)} alarm, ${alarmPlace(first)}, ${alarmSubject(first)}`;
  const said = fresh.length === 1 ? `New: ${what}` : `${fresh.length} new alarms. Most urgent: ${what}`;
  const loud = fresh.some((one) => one.priority === "urgent" || one.priority === "high");
  at(loud ? "loud" : "polite").textContent = said;
}

/* ---- which view ---- */

function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

async function route() {
  const found = /^#\/(.+)$/.exec(location.hash);
  const name = found ? decoded(found[1]) : "";
  const where = location.hash;
  app.view?.gone?.();
  app.view = null;
  if (!app.plant) return;
  const isMove = document.body.dataset.view !== undefined;
  document.body.dataset.view = name ? "collector" : "yard";
  if (name) {
    const { Collector } = await import("./collector.js");
    if (where !== location.hash || app.view) return;
    app.view = new Collector(app, name, at("main"));
  } else {
    app.view = new Yard(app, at("main"));
  }
  if (isMove) {
    at("main").focus({ preventScroll: true });
    scrollTo(0, name ? 0 : app.yardAt || 0);
  }
  app.view.live?.(app.isLive());
  retitle();
}

addEventListener("hashchange", () => {
  if (location.hash === "#main") return;
  route();
});
addEventListener("scroll", () => {
  if (document.body.dataset.view === "yard") app.yardAt = scrollY;
}, { passive: true });

/* ---- who is here ---- */

const api = import("./api.js");

async function getMe() {
  const { get, onLoginNeeded } = await api;
  onLoginNeeded(needLogin);
  return get("me");
}

export async function askWho() {
  try {
    app.me = await getMe();
  } catch {
    return;
  }
  app.view?.who?.();
}

let loggingIn = false;

async function needLogin() {
  if (loggingIn) return;
  loggingIn = true;
  document.body.dataset.login = "yes";
  live.hold();
  const { askLogin } = await import("./signing.js");
  await askLogin(app, { needed: true });
  loggingIn = false;
  delete document.body.dataset.login;
  await askWho();
  live.release();
}

async function whyBroken() {
  // The stream itself does not say why it was refused; a small question does.
  try {
    const me = await getMe();
    if (me.login_needed && !me.person) needLogin();
    else app.me = me;
  } catch {
    /* the watcher is away: the banner says so */
  }
}

at("more").addEventListener("click", async () => {
  const { openMenu } = await import("./signing.js");
  openMenu(app);
});

const live = new Live({ tell, changed: showLive, failed: whyBroken });
app.live = live;
const theme = remembered("theme");
if (theme) document.documentElement.dataset.theme = theme;

getMe()
  .then((me) => {
    app.me = me;
    app.view?.who?.();
    if (me.login_needed && !me.person) needLogin();
  })
  .catch(() => {});
live.start();
