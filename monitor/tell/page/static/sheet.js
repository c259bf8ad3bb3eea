/* Sheet: one question at the foot of the screen, where a thumb reaches; in the middle of a wide one. */

import { command } from "./api.js";
import { ACTION_WORDS } from "./alarms.js";
import { h, toast } from "./dom.js";
import { alarmSubject, capital, length, typeset } from "./words.js";

/* Opens a sheet and gives back its end: `close(value)` settles it; leaving it gives null. */
export function open(title, fill, { mayLeave = true } = {}) {
  return new Promise((settle) => {
    const back = document.activeElement;
    const dialog = h("dialog", { class: "sheet", "aria-labelledby": "sheet-title" });
    let value = null;
    const close = (found = null) => {
      value = found;
      dialog.close();
    };
    dialog.append(h("h2", { id: "sheet-title", text: title }), ...fill(close));
    dialog.addEventListener("cancel", (event) => mayLeave || event.preventDefault());
    dialog.addEventListener("click", (event) => mayLeave && event.target === dialog && close());
    dialog.addEventListener("close", () => {
      dialog.remove();
      (back?.isConnected ? back : document.getElementById("main")).focus({ preventScroll: true });
      settle(value);
    });
    document.body.append(dialog);
    dialog.showModal();
    (dialog.querySelector("[autofocus]") || dialog.querySelector("input,button"))?.focus();
  });
}

export function field(label, input, hint = "") {
  if (hint) input.setAttribute("aria-describedby", `${input.id}-hint`);
  return h("p", { class: "field" }, h("label", { for: input.id, text: label }), input, hint && h("small", { id: `${input.id}-hint`, text: hint }));
}

export const fault = () => h("p", { class: "fault", role: "alert" });

const LENGTHS_S = [900, 1800, 3600, 7200, 14400, 28800, 86400];
const MOST_S = 28800;

const EXPLAINS = {
  shelve: "It warns nobody until then, and comes back by itself if its condition is still there.",
  out_of_service: "It warns nobody until a person returns it to service.",
  return_to_service: "From then on it warns again.",
  filters_changed: "The forecast begins anew with them. A note for others may stand here.",
};

/* shelve, out_of_service, return_to_service of an alarm, or filters_changed of a collector. */
export function askReason(app, what, alarm, name) {
  const verb = ACTION_WORDS[what].replace(" …", "");
  const needed = what === "shelve" || what === "out_of_service";
  return open(`${verb}: ${alarm.tag || alarm.name}`, (close) => {
    const reason = h("input", { id: "reason", maxlength: "200", required: needed, autocomplete: "off", autofocus: needed, enterkeyhint: "done" });
    const lengths = what === "shelve" ? choices(app) : null;
    const wrong = fault();
    const send = h("button", { type: "submit", class: "main", text: verb });
    const form = h(
      "form",
      { novalidate: true },
      h("p", { class: "lead", text: alarm.tag ? `${alarm.collector || alarm.link}, ${alarmSubject(alarm)}. ${EXPLAINS[what]}` : EXPLAINS[what] }),
      lengths,
      field(needed ? "Why" : "Why (may be left out)", reason, name ? `Signed: ${name}` : ""),
      wrong,
      h("div", { class: "buttons" }, send, h("button", { type: "button", text: "Leave it", onclick: () => close(false) })),
    );
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (needed && !reason.value.trim()) {
        wrong.textContent = "Say why in a few words: the next shift must know.";
        reason.focus();
        return;
      }
      send.disabled = true;
      const answer = await command(fields(what, alarm, reason.value.trim(), lengths), app.me, name);
      send.disabled = false;
      if (answer.done) {
        toast(typeset(capital(answer.text)));
        close(true);
      } else wrong.textContent = typeset(capital(answer.text));
    });
    return [form];
  });
}

function fields(what, alarm, reason, lengths) {
  const found = { command: what };
  if (alarm.tag) found.tag = alarm.tag;
  else found.collector = alarm.name;
  if (reason) found.reason = reason;
  if (lengths) found.for = Number(lengths.querySelector("input:checked").value);
  return found;
}

function choices(app) {
  const most = app.plant.site.longest_shelf_s || MOST_S;
  const shown = LENGTHS_S.filter((one) => one <= most);
  if (!shown.length) shown.push(most);
  const usual = shown.includes(3600) ? 3600 : shown[0];
  const one = (s) => h("label", { class: "chip" }, h("input", { type: "radio", name: "for", value: s, checked: s === usual }), h("span", { text: words(s) }));
  return h("fieldset", {}, h("legend", { text: "For how long" }), h("div", { class: "chips" }, shown.map(one)));
}

const words = (s) => (s === 86400 ? "1 d" : s === 3600 ? "1 h" : length(s));
