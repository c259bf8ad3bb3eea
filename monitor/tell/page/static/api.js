/* Api: questions to the watcher and commands to it. Each answer is given, or an Error whose message is a sentence. */

const BASE = "/api/v1/";

export class Refused extends Error {
  constructor(status, sentence) {
    super(sentence);
    this.status = status;
  }
}

let whenLoginNeeded = () => {};
export const onLoginNeeded = (tell) => {
  whenLoginNeeded = tell;
};

async function read(answer) {
  try {
    return await answer.json();
  } catch {
    return null;
  }
}

async function ask(path, options = {}, limitMs = 10000) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), limitMs);
  try {
    const answer = await fetch(BASE + path, { credentials: "same-origin", signal: stop.signal, ...options });
    const body = answer.status === 204 ? null : await read(answer);
    return { status: answer.status, ok: answer.ok, body };
  } catch {
    throw new Refused(0, "The watcher does not answer. Nothing is known of it; try again.");
  } finally {
    clearTimeout(timer);
  }
}

export async function get(path) {
  const { status, ok, body } = await ask(path);
  if (status === 401) whenLoginNeeded();
  if (!ok) throw new Refused(status, body?.error || body?.text || `The watcher refused (${status}).`);
  return body;
}

function post(path, body, csrf) {
  const headers = { "Content-Type": "application/json" };
  if (csrf) headers["X-Cakewatch-Token"] = csrf;
  return ask(path, { method: "POST", headers, body: body === null ? undefined : JSON.stringify(body) }, 15000);
}

export async function login(person, password) {
  const { ok, status, body } = await post("login", { person, password });
  if (!ok) throw new Refused(status, body?.error || "This did not work; try again.");
  return body;
}

export const logout = (csrf) => post("logout", null, csrf);

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return `page-${[...bytes].map((one) => one.toString(16).padStart(2, "0")).join("")}`;
}

/* Sent again under the same id where the network swallowed it: carried out once all the same. */
export async function command(fields, me, name) {
  const body = { command_id: newId(), ...fields };
  if (me.how === "machine" && !me.person) body.by = name;
  for (let attempt = 0; ; attempt += 1) {
    try {
      const { status, body: answer } = await post("commands", body, me.csrf);
      if (status === 401) whenLoginNeeded();
      if (status === 503 && attempt < 2) continue;
      return { done: Boolean(answer?.done), text: answer?.text || answer?.error || `The watcher refused (${status}).` };
    } catch (error) {
      if (attempt >= 2) return { done: false, text: `${error.message} It may have been carried out all the same: look at the alarm.` };
    }
  }
}
