/* Live: the stream from the watcher, and whether what is shown may be called current.

   It is live only while messages come: after SILENT_MS without one, after an error of the stream, or while the
   watcher says of itself that it is stuck, everything shown is old and the page must say so. A browser may hold a
   page asleep for hours and then hand it the messages of long ago: a message much older than the connection's first
   one, by either of the phone's clocks, does not count as heard. */

export const SILENT_MS = 6000;
const LOOK_MS = 500;
const REOPEN_MS = [1000, 2000, 3000, 5000];
const KINDS = ["plant", "values", "cards", "alarms", "event", "beat"];

const walls = () => Date.now();
const ticks = () => performance.now();

/* One opened stream; what comes before somebody listens waits, with the moment at which it came. */
function openLine() {
  const line = { source: new EventSource("/api/v1/stream"), openedMs: ticks(), waiting: [], hear: null, broken: null, failed: false };
  for (const kind of KINDS) {
    line.source.addEventListener(kind, (message) => {
      const heard = { wall: walls(), tick: ticks() };
      if (line.hear) line.hear(kind, message.data, heard);
      else line.waiting.push([kind, message.data, heard]);
    });
  }
  line.source.addEventListener("error", () => {
    line.failed = true;
    line.broken?.();
  });
  return line;
}

// Opened as soon as this file is there, while the rest of the page is still on its way.
let early = openLine();

export class Live {
  /* tell(kind, body) for each message that counts; changed(status) when live or not, or why, changes;
     failed() when the stream broke (the caller asks whether a login is needed). */
  constructor({ tell, changed, failed }) {
    Object.assign(this, { tell, changed, failed });
    this.status = { live: false, why: "starting", heardS: null, stuck: "" };
    this.heard = null;
    this.base = null;
    this.stuck = "";
    this.tries = 0;
    this.source = null;
    this.openedMs = 0;
    this.error = false;
    this.held = false;
  }

  start() {
    this.open();
    setInterval(() => this.look(), LOOK_MS);
    const woken = () => this.look(true);
    document.addEventListener("visibilitychange", woken);
    document.addEventListener("resume", woken);
    addEventListener("focus", woken);
    addEventListener("online", () => this.reopen());
    addEventListener("offline", () => this.broken());
    addEventListener("pageshow", (event) => {
      if (event.persisted) this.reopen();
      this.look();
    });
  }

  hold() {
    this.held = true;
    this.close();
    this.error = true;
    this.look();
  }

  release() {
    this.held = false;
    this.reopen();
  }

  open() {
    if (this.held) return;
    this.close();
    this.base = null;
    const line = early || openLine();
    early = null;
    this.openedMs = line.openedMs;
    this.source = line.source;
    const isOurs = () => this.source === line.source;
    line.hear = (kind, data, heard) => isOurs() && this.hear(kind, data, heard);
    line.broken = () => isOurs() && this.broken();
    for (const [kind, data, heard] of line.waiting) line.hear(kind, data, heard);
    if (line.failed) line.broken();
  }

  close() {
    clearTimeout(this.later);
    this.later = null;
    this.source?.close();
    this.source = null;
  }

  reopen() {
    this.error = true;
    this.open();
    this.look();
  }

  broken() {
    this.error = true;
    this.failed();
    this.again();
    this.look();
  }

  again() {
    if (this.later || this.held) return;
    const wait = REOPEN_MS[Math.min(this.tries, REOPEN_MS.length - 1)];
    this.tries += 1;
    this.source?.close();
    this.source = null;
    this.later = setTimeout(() => {
      this.later = null;
      this.open();
    }, wait);
  }

  hear(kind, data, heard) {
    let body;
    try {
      body = JSON.parse(data);
    } catch {
      return;
    }
    if (kind !== "event" && this.isOld(body.at_utc_s, heard)) {
      this.reopen();
      return;
    }
    // A stream without its beginning would show changes to what was never shown.
    if (this.base === null && kind !== "plant") return;
    this.heard = heard;
    this.error = false;
    this.tries = 0;
    if (kind === "plant") this.stuck = "";
    if (kind === "beat") this.stuck = body.ok ? "" : body.why || "it does not say why";
    if (kind === "plant") this.base = { wall: heard.wall - body.at_utc_s * 1000, tick: heard.tick - body.at_utc_s * 1000 };
    this.tell(kind, body);
    this.look();
  }

  isOld(atS, heard) {
    if (!Number.isFinite(atS) || !this.base) return false;
    const late = Math.max(heard.wall - atS * 1000 - this.base.wall, heard.tick - atS * 1000 - this.base.tick);
    return late > SILENT_MS;
  }

  silentMs() {
    if (!this.heard) return Infinity;
    return Math.max(walls() - this.heard.wall, ticks() - this.heard.tick);
  }

  look(woken = false) {
    const silent = this.silentMs();
    if (woken && silent > SILENT_MS) this.reopenOnce();
    const waited = ticks() - this.openedMs;
    if (this.source && silent > SILENT_MS && waited > SILENT_MS) this.brokenQuietly();
    const why = !this.heard ? (this.error ? "lost" : "starting") : this.error ? "lost" : silent > SILENT_MS ? "silent" : this.stuck ? "stuck" : "";
    const next = { live: !why, why, heardS: this.heard ? this.heard.wall / 1000 : null, stuck: this.stuck };
    const was = this.status;
    this.status = next;
    const isNews = was.live !== next.live || was.why !== next.why || was.stuck !== next.stuck;
    this.changed(next, isNews);
  }

  reopenOnce() {
    if (ticks() - this.openedMs < 1500) return;
    this.error = true;
    this.open();
  }

  brokenQuietly() {
    this.failed();
    this.again();
  }
}
