/* Signing: who is here: a login where one is needed, a name to sign with on the machine itself, the menu. */

import { login, logout } from "./api.js";
import { h, remember, remembered, toast } from "./dom.js";
import { fault, field, open } from "./sheet.js";

/* The name, once; null where the person left the question. */
export function askName() {
  return open("Who are you?", (close) => {
    const input = h("input", { id: "name", maxlength: "64", autocomplete: "username", autofocus: true, value: remembered("name") });
    const wrong = fault();
    const form = h(
      "form",
      { novalidate: true },
      h("p", { class: "lead", text: "What you do is signed with your name, and others read it. This browser remembers it." }),
      field("Name", input),
      wrong,
      h("div", { class: "buttons" }, h("button", { type: "submit", class: "main", text: "Sign with this" }), h("button", { type: "button", text: "Leave it", onclick: () => close(null) })),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const name = input.value.trim();
      if (!name) {
        wrong.textContent = "Write your name, as others here know you.";
        input.focus();
        return;
      }
      remember("name", name);
      close(name);
    });
    return [form];
  });
}

/* `needed`: nothing is shown without it, so it cannot be left. */
export function askLogin(app, { needed = false } = {}) {
  const fill = (close) => {
    const person = h("input", { id: "person", autocomplete: "username", autocapitalize: "none", autofocus: true });
    const password = h("input", { id: "password", type: "password", autocomplete: "current-password" });
    const wrong = fault();
    const send = h("button", { type: "submit", class: "main", text: "Log in" });
    const form = h(
      "form",
      { novalidate: true },
      needed && h("p", { class: "lead", text: "From here the plant can be seen by those who log in." }),
      field("Name", person),
      field("Password", password),
      wrong,
      h("div", { class: "buttons" }, send, !needed && h("button", { type: "button", text: "Leave it", onclick: () => close(null) })),
    );
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      send.disabled = true;
      try {
        const { csrf, may, person: who } = await login(person.value.trim(), password.value);
        app.me = { ...app.me, person: who, may, csrf, how: "session" };
        close(who);
      } catch (error) {
        wrong.textContent = error.message;
        password.select();
      }
      send.disabled = false;
    });
    return [form];
  };
  return open("Log in", fill, { mayLeave: !needed });
}

const THEMES = [["", "As the device"], ["light", "Light"], ["dark", "Dark"]];

function themes() {
  const now = remembered("theme");
  const one = ([value, words]) => h("label", { class: "chip" }, h("input", { type: "radio", name: "theme", value, checked: value === now, onchange: () => take(value) }), h("span", { text: words }));
  return h("fieldset", {}, h("legend", { text: "Light or dark" }), h("div", { class: "chips" }, THEMES.map(one)));
}

function take(theme) {
  remember("theme", theme);
  if (theme) document.documentElement.dataset.theme = theme;
  else delete document.documentElement.dataset.theme;
  dispatchEvent(new Event("cakewatch-theme"));
}

function who(app, close) {
  const { me } = app;
  if (me.person && me.how === "session") {
    return [h("p", { class: "lead", text: `Logged in as ${me.person}.` }), h("button", { type: "button", text: "Log out", onclick: () => leave(app, close) })];
  }
  const login = me.can_login && h("button", { type: "button", text: "Log in", onclick: () => close("login") });
  if (me.how !== "machine" || me.person) return [login];
  const name = remembered("name");
  return [h("p", { class: "lead", text: name ? `What you do is signed: ${name}.` : "What you do will be signed with your name." }), h("button", { type: "button", text: name ? "Another name" : "Give a name", onclick: () => close("name") }), login];
}

async function leave(app, close) {
  try {
    await logout(app.me.csrf);
    location.hash = "#/";
    location.reload();
  } catch (error) {
    toast(error.message, true);
    close();
  }
}

export async function openMenu(app) {
  const site = app.plant?.site;
  const about = site ? `cakewatch ${site.version}. It watches and does not control; keep your interlocks. Times are those of this device; the plant's zone is ${site.time_zone}. The inch of water is the ${site.inch_of_water} one.` : "";
  const chosen = await open("Menu", (close) => [
    h("div", { class: "who-menu" }, who(app, close)),
    themes(),
    h("p", { class: "about", text: about }),
    h("div", { class: "buttons" }, h("button", { type: "button", class: "main", text: "Close", autofocus: true, onclick: () => close() })),
  ]);
  if (chosen === "name") await askName();
  if (chosen === "login" && (await askLogin(app))) location.reload();
}
