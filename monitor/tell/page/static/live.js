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
    this.openedMs = ticks();
    this.base = null;
    const source = new EventSource("/api/v1/stream");
    this.source = source;
    for (const kind of KINDS) {
      source.addEventListener(kind, (message) => this.source === source && this.hear(kind, message.data));
    }
    source.addEventListener("error", () => this.source === source && this.broken());
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

  hear(kind, data) {
    let body;
    try {
      body = JSON.parse(data);
    } catch {
      return;
    }
    if (kind !== "event" && this.isOld(body.at_utc_s)) {
      this.reopen();
      return;
    }
    // A stream without its beginning would show changes to what was never shown.
    if (this.base === null && kind !== "plant") return;
    this.heard = { wall: walls(), tick: ticks(), atS: walls() / 1000 };
    this.error = false;
    this.tries = 0;
    if (kind === "plant") this.stuck = "";
    if (kind === "beat") this.stuck = body.ok ? "" : body.why || "it does not say why";
    if (kind === "plant") this.base = { wall: walls() - body.at_utc_s * 1000, tick: ticks() - body.at_utc_s * 1000 };
    this.tell(kind, body);
    this.look();
  }

  isOld(atS) {
    if (!Number.isFinite(atS) || !this.base) return false;
    const late = Math.max(walls() - atS * 1000 - this.base.wall, ticks() - atS * 1000 - this.base.tick);
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
    const next = { live: !why, why, heardS: this.heard?.atS ?? null, stuck: this.stuck };
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
