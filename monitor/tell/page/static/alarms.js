/* Alarms: the list of those somebody must look at, each with what can be done about it. */

import { h, keep, remembered, setAttr, setHidden, setText, sign } from "./dom.js";
import { actionsFor, alarmPlace, alarmSubject, capital, figure, isHeld, isUnanswered, moment, priorityWord, seconds, standing, typeset, unitWord } from "./words.js";

export const ACTION_WORDS = {
  acknowledge: "Acknowledge",
  clear: "Clear",
  shelve: "Shelve …",
  unshelve: "Unshelve",
  out_of_service: "Out of service …",
  return_to_service: "Return to service …",
  filters_changed: "New filters were put in …",
};

/* What needs only a touch; the rest asks for a reason first. */
const AT_ONCE = new Set(["acknowledge", "clear", "unshelve"]);

export async function act(app, what, alarm, { toast }) {
  if (!app.isLive()) {
    toast("Not live: what you see is old, so nothing can be done from here now.", true);
    return false;
  }
  if (!app.me.may.includes(what)) {
    toast(mayNot(app.me, what), true);
    return false;
  }
  const name = await signature(app);
  if (name === null) return false;
  if (!AT_ONCE.has(what)) {
    const { askReason } = await import("./sheet.js");
    return askReason(app, what, alarm, name);
  }
  const { command } = await import("./api.js");
  const answer = await command({ command: what, tag: alarm.tag }, app.me, name);
  toast(typeset(capital(answer.text)), !answer.done);
  return answer.done;
}

export function mayNot(me, what) {
  const who = me.person ? `${me.person} may` : "Without a login you may";
  return `${who} look, but not ${(ACTION_WORDS[what] || what).toLowerCase().replace(" …", "")}.${me.can_login && !me.person ? " Log in through the menu." : ""}`;
}

/* The name to sign with: proven by the login, or asked for once on the machine itself. */
export async function signature(app) {
  if (app.me.person || app.me.how !== "machine") return app.me.person;
  const known = remembered("name");
  if (known) return known;
  const { askName } = await import("./signing.js");
  return askName();
}

export class AlarmItem {
  constructor(app, alarm, options) {
    this.app = app;
    this.options = options;
    this.mark = sign("low");
    this.priority = h("b", { class: "word" });
    this.place = h("a", { class: "name" });
    this.tag = h("span", { class: "tag" });
    this.subject = h("span");
    this.reads = h("span", { class: "reads" });
    this.what = h("p", { class: "what" }, this.subject, this.reads);
    this.how = h("p", { class: "how" });
    this.behind = h("p", { class: "behind" });
    this.buttons = h("div", { class: "buttons" });
    const title = h("p", { class: "title" }, this.mark, this.priority, options.isWithin ? null : this.place, this.tag);
    this.node = h("li", { class: "alarm" }, title, this.what, this.how, this.behind, this.buttons);
    this.update(alarm);
  }

  update(alarm) {
    this.alarm = alarm;
    setAttr(this.node, "data-worst", alarm.active || !isHeld(alarm) ? alarm.priority : null);
    setAttr(this.node, "data-unanswered", isUnanswered(alarm));
    setAttr(this.node, "data-quiet", alarm.state === "normal" || isHeld(alarm));
    this.mark.show(isHeld(alarm) ? "held" : alarm.active ? alarm.priority : alarm.state === "normal" ? "normal" : "waiting");
    setText(this.priority, priorityWord(alarm.priority));
    setText(this.place, alarmPlace(alarm));
    setAttr(this.place, "href", alarm.collector ? `#/${encodeURIComponent(alarm.collector)}` : null);
    setText(this.tag, alarm.tag);
    // "now" or "was" stands before it by whether the page is live.
    const reads = Number.isFinite(alarm.value);
    setText(this.subject, alarmSubject(alarm) + (reads ? "; " : ""));
    setText(this.reads, reads ? `${figure(alarm.value)} ${unitWord(alarm.unit)}` : "");
    setHidden(this.reads, !reads);
    const since = seconds(alarm.since);
    const from = since && !isHeld(alarm) && alarm.state !== "normal" ? `, since ${moment(since, this.app.nowS(), false)}` : "";
    const stands = isHeld(alarm) && alarm.stands ? "; its condition is there" : "";
    setText(this.how, capital(typeset(standing(alarm, this.app.nowS()))) + stands + from);
    setText(this.behind, alarm.behind ? typeset(alarm.behind) : "");
    setHidden(this.behind, !alarm.behind);
    this.showButtons();
  }

  showButtons() {
    const { alarm, app } = this;
    const wanted = actionsFor(alarm);
    const shown = (this.options.all ? wanted : wanted.filter((one) => one === "acknowledge" || one === "clear")).filter((one) => app.me.may.includes(one));
    const key = shown.join();
    if (key === this.shown) return;
    this.shown = key;
    const hadFocus = this.buttons.contains(document.activeElement);
    this.buttons.replaceChildren(...shown.map((one, k) => this.button(one, k === 0 && (one === "acknowledge" || one === "clear"))));
    setHidden(this.buttons, !shown.length);
    if (hadFocus) (this.buttons.querySelector("button") || this.options.refuge?.())?.focus?.();
  }

  button(what, isFirst) {
    const button = h("button", { type: "button", class: isFirst ? "main" : "", "data-action": what, "aria-label": `${ACTION_WORDS[what].replace(" …", "")} ${this.alarm.tag}`, text: ACTION_WORDS[what] });
    button.addEventListener("click", async () => {
      if (this.busy) return;
      this.busy = true;
      button.setAttribute("aria-busy", "true");
      await act(this.app, what, this.alarm, this.options);
      button.removeAttribute("aria-busy");
      this.busy = false;
    });
    return button;
  }
}

const narrow = matchMedia("(max-width: 70rem)");
const first = () => (narrow.matches ? 3 : 8);

/* The panel beside or above the yard. */
export class AlarmPanel {
  constructor(app, toast) {
    this.app = app;
    this.items = new Map();
    this.heldItems = new Map();
    this.title = h("h2", { id: "alarms-title", tabindex: "-1" });
    this.note = h("p", { class: "note", hidden: true });
    this.list = h("ul", { class: "alarms" });
    this.rest = h("button", { type: "button", class: "wide", hidden: true });
    this.rest.addEventListener("click", () => {
      this.all = !this.all;
      this.update();
    });
    this.heldList = h("ul", { class: "alarms" });
    this.heldTitle = h("summary");
    this.heldBox = h("details", { class: "heldbox", hidden: true }, this.heldTitle, this.heldList);
    this.node = h("section", { class: "panel", "aria-labelledby": "alarms-title" }, this.title, this.note, this.list, this.rest, this.heldBox);
    this.options = { toast, refuge: () => this.title };
  }

  update() {
    const { app } = this;
    const open = app.alarms.filter((one) => !isHeld(one) && one.state !== "normal");
    const held = app.alarms.filter(isHeld);
    const unseen = open.filter(isUnanswered).length;
    setText(this.title, open.length ? `${open.length} for somebody to see` : "Nothing needs anybody");
    setAttr(this.node, "data-calm", !open.length);
    const note = noteFor(app.me, open.length, unseen);
    setText(this.note, note);
    setHidden(this.note, !note);
    const shown = this.all ? open : open.slice(0, first());
    this.fill(this.list, this.items, shown);
    setHidden(this.rest, open.length <= first());
    setText(this.rest, this.all ? "Show the most urgent only" : `Show ${open.length - first()} more`);
    setHidden(this.heldBox, !held.length);
    setText(this.heldTitle, `${held.length} held back, ${held.filter((one) => one.stands).length} of them with their condition there`);
    this.fill(this.heldList, this.heldItems, held);
  }

  fill(list, known, alarms) {
    const make = (alarm) => new AlarmItem(this.app, alarm, this.options);
    keep(list, known, alarms, (one) => one.tag, make, (item, alarm) => item.update(alarm));
    setHidden(list, !alarms.length);
  }
}

function noteFor(me, open, unseen) {
  if (!open) return "";
  if (!me.may.includes("acknowledge")) return mayNot(me, "acknowledge");
  return unseen ? `${unseen} not acknowledged` : "All acknowledged";
}
