"""Server: serves the page and the stand-in's JSON on loopback, with a few levers to make things go wrong.

Levers, each a POST to /stub/…: ``mute`` (the stream falls silent), ``stuck`` (beats say so), ``drop`` (streams are
cut and refused), ``well`` (all of it over), ``trouble?collector=DC-101&what=high``, ``login`` (logins are needed).
"""

import gzip
import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from urllib.parse import parse_qs, urlsplit

from tests.tell.page_stub import bodies
from tests.tell.page_stub.mill import Collector, mill

STATIC = files("monitor.tell.page") / "static"
KINDS = {"html": "text/html", "css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
MAY = [
    "acknowledge",
    "clear",
    "shelve",
    "unshelve",
    "out_of_service",
    "return_to_service",
    "test",
    "filters_changed",
]


class Stub:
    """The stand-in's whole state."""

    def __init__(self, count: int, site: str = "Alder Mill") -> None:
        self.site = site
        self.collectors = mill(count, time.time())
        self.lever = "well"
        self.login_needed = False
        self.sessions: set[str] = set()
        self.changed = threading.Event()
        self.news: list[dict] = []
        self.told: dict[str, dict] = {}
        for c in self.collectors:
            if c.trouble == "shelved":
                until = bodies.stamp(time.time() + 5400)
                c.shelved[f"PDAH-{c.number}"] = {
                    "until": until,
                    "by": "anna",
                    "reason": "hopper work",
                    "since": until,
                }

    def cards(self) -> list[dict]:
        now = time.time()
        return [bodies.card(c, now) for c in self.collectors]

    def alarms(self) -> list[dict]:
        now = time.time()
        found = [a for c in self.collectors for a in bodies.alarms(c, now, self.site) if a["state"] != "normal"]
        return sorted(
            found, key=lambda a: (not a["active"], not a["stands"], bodies.RANK[a["priority"]], a["seen"])
        )

    def links(self) -> list[dict]:
        return [{"name": f"gateway {n}", "connected": True, "error": "", "alarm": None} for n in (1, 2)] + [
            {"name": "gateway 3", "connected": False, "error": "no answer from 10.0.0.13 for 40 s", "alarm": None}
        ]

    def outlets(self) -> dict:
        return {
            "mqtt": {"ok": True, "error": ""},
            "phone": {"ok": True, "error": "", "waiting": 0},
            "journal": {"ok": True, "error": ""},
        }

    def plant(self) -> dict:
        return {
            "site": {
                "name": self.site,
                "inch_of_water": "60 F",
                "time_zone": "America/Chicago",
                "version": "0.5.0",
            },
            "at_utc_s": time.time(),
            "beat_s": 2,
            "trend": {"step_s": bodies.STEP_S, "count": bodies.COUNT},
            "links": self.links(),
            "outlets": self.outlets(),
            "collectors": self.cards(),
            "alarms": self.alarms(),
        }

    def find(self, name: str) -> Collector | None:
        return next((c for c in self.collectors if c.name == name), None)

    def carry_out(self, command: dict) -> dict:
        tag, kind = command.get("tag") or "", command.get("command", "")
        c = next((c for c in self.collectors if tag.endswith(f"-{c.number}")), None) or self.find(
            command.get("collector", "")
        )
        if c is None:
            return self._answer(command, "unknown_alarm", f"there is no alarm {tag}")
        by = command.get("by") or "anna"
        if kind == "shelve" and command["for"] > 8 * 3600:
            return self._answer(
                command, "too_long", "PDAH-101 may be shelved for 8 h at most; choose a shorter time"
            )
        now = time.time()
        match kind:
            case "acknowledge":
                c.acknowledged.add(tag)
            case "clear":
                c.acknowledged.discard(tag)
                c.trouble = ""
            case "shelve":
                c.shelved[tag] = {
                    "until": bodies.stamp(now + command["for"]),
                    "by": by,
                    "reason": command["reason"],
                    "since": bodies.stamp(now),
                }
            case "unshelve":
                c.shelved.pop(tag, None)
            case "out_of_service":
                c.removed[tag] = {"by": by, "reason": command["reason"], "since": bodies.stamp(now)}
            case "return_to_service":
                c.removed.pop(tag, None)
        self.changed.set()
        return self._answer(command, "done", f"{tag or c.name} {kind.replace('_', ' ')} by {by}: done")

    def _answer(self, command: dict, code: str, text: str) -> dict:
        return {
            "command_id": command.get("command_id", ""),
            "code": code,
            "done": code == "done",
            "text": text,
            "tag": command.get("tag"),
            "state": None,
            "repeated": False,
            "at": bodies.stamp(time.time()),
        }


class Handler(BaseHTTPRequestHandler):
    """Answers one browser."""

    protocol_version = "HTTP/1.1"
    stub: Stub

    def log_message(self, *args: object) -> None:
        pass

    def do_GET(self) -> None:
        url = urlsplit(self.path)
        query = parse_qs(url.query)
        parts = [p for p in url.path.split("/") if p]
        if url.path == "/":
            return self._file("index.html")
        if parts[0] == "page":
            return self._file(parts[1])
        if parts[:2] == ["api", "v1"]:
            return self._api(parts[2:], query)
        return self._json({"error": "there is nothing here"}, 404)

    def do_POST(self) -> None:
        url = urlsplit(self.path)
        query = parse_qs(url.query)
        body = self.rfile.read(int(self.headers.get("content-length") or 0))
        match url.path:
            case "/api/v1/commands":
                answer = self.stub.carry_out(json.loads(body))
                return self._json(answer, 200 if answer["done"] else 422)
            case "/api/v1/login":
                given = json.loads(body)
                if given["password"] != "alder":
                    return self._json({"error": "this name and password do not belong together"}, 401)
                self.stub.sessions.add(given["person"])
                return self._json(
                    {"person": given["person"], "may": MAY, "csrf": "c"},
                    200,
                    {"Set-Cookie": f"who={given['person']}"},
                )
            case "/api/v1/logout":
                self.stub.sessions.clear()
                return self._json(None, 204)
        lever = url.path.removeprefix("/stub/")
        if lever == "trouble":
            c = self.stub.find(query["collector"][0])
            if c:
                c.trouble, c.since_utc_s = query["what"][0], time.time() - 5
                c.acknowledged.clear()
            self.stub.changed.set()
        elif lever == "login":
            self.stub.login_needed = True
        else:
            self.stub.lever = lever
        return self._json({"lever": lever})

    def _api(self, parts: list[str], query: dict) -> None:
        stub, now = self.stub, time.time()
        if parts == ["me"]:
            return self._json(self._me())
        if stub.login_needed and not stub.sessions:
            return self._json({"error": "log in first"}, 401)
        match parts:
            case ["plant"]:
                return self._json(stub.plant())
            case ["trends"]:
                named = query.get("collector")
                return self._json(bodies.trends([c for c in stub.collectors if not named or c.name in named], now))
            case ["stream"]:
                return self._stream()
            case ["events"]:
                named = query.get("collector")
                found = bodies.events([c for c in stub.collectors if not named or c.name in named], now)
                before = float(query.get("before_seq", ["inf"])[0])
                return self._json({"events": [e for e in found if e["seq"] < before][:50], "more": False})
            case ["collectors", name] if c := stub.find(name):
                return self._json(bodies.detail(c, now))
            case ["collectors", name, "chart"] if c := stub.find(name):
                f, u = float(query["from_utc_s"][0]), float(query["until_utc_s"][0])
                return self._json(bodies.chart(c, f, u, int(query.get("points", ["600"])[0]), now))
        return self._json({"error": "there is no such collector"}, 404)

    def _me(self) -> dict:
        stub = self.stub
        if not stub.login_needed:
            return {
                "person": "",
                "how": "machine",
                "may": MAY,
                "login_needed": False,
                "can_login": False,
                "csrf": None,
            }
        person = next(iter(stub.sessions), "")
        return {
            "person": person,
            "how": "session",
            "may": MAY if person else [],
            "login_needed": True,
            "can_login": True,
            "csrf": "c" if person else None,
        }

    def _stream(self) -> None:
        if self.stub.lever == "drop":
            return self._json({"error": "not now"}, 503)
        self.send_response(200)
        self.send_header("Content-Type", "text/event-stream")
        self.send_header("Cache-Control", "no-store")
        self.send_header("Connection", "close")
        self.end_headers()
        self.close_connection = True
        try:
            self.wfile.write(b"retry: 2000\n\n")
            while self.stub.lever == "mute":
                time.sleep(0.1)
            self._send("plant", self.stub.plant())
            self._go_on()
        except OSError:
            pass
        return None

    def _go_on(self) -> None:
        stub, told, alarms, n = self.stub, {}, None, 0
        while stub.lever != "drop":
            stub.changed.wait(0.1)
            stub.changed.clear()
            n += 1
            if stub.lever == "mute":
                continue
            listed = [{k: v for k, v in a.items() if k not in ("at", "value")} for a in stub.alarms()]
            if alarms != listed:
                alarms = listed
                self._send("alarms", {"at_utc_s": time.time(), "alarms": stub.alarms()})
            if n % 10 == 0:
                cards = {c["name"]: c for c in stub.cards()}
                news = [c for name, c in cards.items() if told.get(name) != c]
                told = cards
                self._send(
                    "cards",
                    {
                        "at_utc_s": time.time(),
                        "collectors": news,
                        "links": stub.links(),
                        "outlets": stub.outlets(),
                    },
                )
            if n % 20 == 0:
                why = "the judge has not finished a scan for 30 s" if stub.lever == "stuck" else ""
                self._send("beat", {"at_utc_s": time.time(), "ok": not why, "why": why})

    def _send(self, kind: str, body: dict) -> None:
        self.wfile.write(f"event: {kind}\ndata: {json.dumps(body, separators=(',', ':'))}\n\n".encode())
        self.wfile.flush()

    def _file(self, name: str) -> None:
        found = STATIC / name
        if not found.is_file():
            return self._json({"error": "there is no such file"}, 404)
        kind = KINDS[name.rsplit(".", 1)[-1]] + "; charset=utf-8"
        return self._bytes(
            found.read_bytes(), kind, 200, {"Cache-Control": "no-cache", "Content-Security-Policy": POLICY}
        )

    def _json(self, body: object, status: int = 200, headers: dict | None = None) -> None:
        packed = b"" if body is None else json.dumps(body, separators=(",", ":")).encode()
        self._bytes(packed, "application/json", status, {"Cache-Control": "no-store"} | (headers or {}))

    def _bytes(self, body: bytes, kind: str, status: int, headers: dict) -> None:
        if "gzip" in (self.headers.get("accept-encoding") or "") and len(body) > 500:
            body = gzip.compress(body, 5)
            headers = headers | {"Content-Encoding": "gzip"}
        self.send_response(status)
        for name, value in ({"Content-Type": kind, "Content-Length": str(len(body))} | headers).items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def handle_error(self, request: object, client_address: object) -> None:
        """A browser that leaves in the middle is nothing to tell of."""


def serve(count: int, port: int = 0, site: str = "Alder Mill") -> tuple[ThreadingHTTPServer, Stub]:
    """Start it on a thread of its own; the port is in ``server.server_port``. The caller shuts it down."""
    stub = Stub(count, site)
    server = _Server(("127.0.0.1", port), type("Bound", (Handler,), {"stub": stub}))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server, stub
