"""Bodies: the JSON of the stand-in, as the page is promised it."""

from datetime import UTC, datetime

from tests.tell.page_stub.mill import WORKS, Collector

STEP_S, COUNT = 300, 96
RANK = {"urgent": 0, "high": 1, "medium": 2, "low": 3, "advisory": 4}


def stamp(t: float | None) -> str | None:
    if t is None:
        return None
    return datetime.fromtimestamp(t, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def bands(c: Collector) -> list[dict]:
    n = c.number
    return [
        _band(f"PDAHH-{n}", "above", 8.0, "urgent"),
        _band(f"PDAH-{n}", "above", c.setpoint, "high"),
        _band(f"PDAL-{n}", "below", 0.8, "medium"),
    ]


def _band(tag: str, side: str, setpoint: float, priority: str) -> dict:
    return {
        "tag": tag,
        "side": side,
        "setpoint": setpoint,
        "deadband": 0.3,
        "priority": priority,
        "judged": "damped",
        "state": "normal",
    }


def alarms(c: Collector, t: float, site: str = "Alder Mill") -> list[dict]:
    """Every alarm of one collector."""
    return [_alarm(c, band["tag"], band["priority"], t, site, band) for band in bands(c)] + [
        _alarm(c, f"PDA-{c.number}", "low", t, site, None)
    ]


def _is_there(c: Collector, tag: str, t: float) -> bool:
    value = c.dp(t)
    if tag.startswith("PDA-"):
        return value is None
    if value is None:
        return False
    if c.trouble == "waiting" and tag.startswith("PDAH-"):
        return False
    if tag.startswith("PDAHH"):
        return c.trouble == "high" and c.number % 2 == 0 and value > 8.0
    if tag.startswith("PDAH"):
        return c.trouble in ("high", "shelved")
    return c.trouble == "low"


def _state(c: Collector, tag: str, there: bool) -> str:
    seen = tag in c.acknowledged
    if tag in c.removed:
        return "out_of_service"
    if tag in c.shelved:
        return "shelved"
    if c.fan == "stopped" and tag.startswith("PDAL"):
        return "suppressed_by_design"
    if there:
        return "acknowledged" if seen else "unacknowledged"
    if c.trouble == "waiting" and tag.startswith("PDAH-"):
        return "latched_acknowledged" if seen else "latched_unacknowledged"
    return "normal"


def _alarm(c: Collector, tag: str, priority: str, t: float, site: str, band: dict | None) -> dict:
    there = _is_there(c, tag, t)
    state = _state(c, tag, there)
    active = state in ("unacknowledged", "acknowledged")
    return {
        "site": site,
        "collector": c.name,
        "link": None,
        "tag": tag,
        "at": stamp(t),
        "priority": priority,
        "state": state,
        "text": state.replace("_", ", "),
        "active": active,
        "stands": there,
        "seen": tag in c.acknowledged,
        "since": stamp(c.since_utc_s) if state != "normal" else None,
        "raised": stamp(c.since_utc_s) if state != "normal" else None,
        "latching": tag.startswith("PDAH-"),
        "suppressed_by": {"why": "fan_stopped", "under": None} if state == "suppressed_by_design" else None,
        "shelved": c.shelved.get(tag),
        "out_of_service": c.removed.get(tag),
        "condition": "band" if band else "bad_signal",
        "early_warning": None,
        "setpoint": band["setpoint"] if band else None,
        "deadband": band["deadband"] if band else None,
        "unit": "inH2O" if band else None,
        "side": band["side"] if band else None,
        "judged": "damped" if band else None,
        "value": None if c.dp(t) is None or not band else round(c.dp(t), 3),
        "behind": "cleaning valves that no longer pulse" if active and "H" in tag else None,
    }


def card(c: Collector, t: float) -> dict:
    value = c.dp(t)
    told = alarms(c, t)
    active = [a for a in told if a["active"]]
    waiting = [a for a in told if a["state"].startswith(("latched", "returned"))]
    held = [a for a in told if a["state"] in ("shelved", "suppressed_by_design", "out_of_service")]
    worst = min((a["priority"] for a in active or waiting), key=RANK.get, default=None)
    state = _card_state(value, active, waiting, held)
    n = c.number
    return {
        "name": c.name,
        "area": c.area,
        "description": WORKS[n % len(WORKS)],
        "link": f"gateway {1 + n % 3}",
        "dp": {
            "tag": f"PDT-{n}",
            "value": None if value is None else round(value, 3),
            "quality": "bad" if value is None else "good" if n % 13 else "uncertain",
            "reason": "loop_failed_low" if value is None else "none" if n % 13 else "frozen",
            "detail": "3.42 mA: the transmitter says it has failed" if value is None else "",
            "at_utc_s": round(t, 3),
            "last_good_utc_s": c.since_utc_s if value is None else round(t, 3),
        },
        "residual": None if value is None else round(c.residual(t), 3),
        "average": None if value is None else round((c.start + c.stop) / 2, 3),
        "scale": {"low": 0.0, "high": 10.0},
        "bands": [b | {"state": next(a["state"] for a in told if a["tag"] == b["tag"])} for b in bands(c)],
        "cleaning": {"mode": "on-demand", "start": c.start, "stop": c.stop}
        if n % 8
        else {"mode": "timed", "start": None, "stop": None},
        "fan": c.fan,
        "cleaning_now": c.is_cleaning(t),
        "state": state,
        "says": _says(c, state, value, active),
        "worst": worst,
        "active": len(active),
        "unacknowledged": sum("unacknowledged" in a["state"] for a in told),
        "held": [{"tag": a["tag"], "how": a["state"], "says": _held(a)} for a in held],
        "forecast": f"at this rise the filters are due in {20 + n % 60} to {50 + n % 60} days" if n % 2 else None,
        "likely": "cleaning valves that no longer pulse" if c.trouble == "high" else None,
    }


def _card_state(value: float | None, active: list, waiting: list, held: list) -> str:
    if active:
        return "alarm"
    if value is None:
        return "blind"
    if waiting:
        return "waiting"
    if any(a["state"] == "out_of_service" for a in held):
        return "out_of_service"
    return "held" if any(a["stands"] for a in held) else "normal"


def _says(c: Collector, state: str, value: float | None, active: list) -> str:
    if value is None:
        return "DP cannot be read: the transmitter reports a failure of its own"
    if active:
        side = "above" if active[0]["side"] == "above" else "below"
        return f"DP {side} {active[0]['setpoint']} inH2O since {stamp(c.since_utc_s)[11:16]} UTC"
    if state == "waiting":
        return "DP was high and is back to normal; somebody must look at it"
    if c.fan == "stopped":
        return "fan stopped"
    return "between stop and start, cleaning on demand"


def _held(a: dict) -> str:
    if a["shelved"]:
        return (
            f"shelved until {a['shelved']['until'][11:16]} UTC by {a['shelved']['by']}: {a['shelved']['reason']}"
        )
    if a["out_of_service"]:
        return f"out of service by {a['out_of_service']['by']}: {a['out_of_service']['reason']}"
    return "held back while the fan is stopped"


def trends(collectors: list[Collector], now: float) -> dict:
    start = (now // STEP_S - COUNT + 1) * STEP_S
    return {
        "step_s": STEP_S,
        "start_utc_s": start,
        "count": COUNT,
        "collectors": {c.name: _trend(c, start, now) for c in collectors},
    }


def _trend(c: Collector, start: float, now: float) -> dict:
    told: dict[str, list] = {"low": [], "high": [], "cleanings": [], "alarm": [], "blind": []}
    for k in range(COUNT):
        t = start + k * STEP_S
        found = None if c.is_gap(t) else c.low_high(t, min(STEP_S, max(1, now - t)))
        told["low"].append(None if found is None else round(found[0], 3))
        told["high"].append(None if found is None else round(found[1], 3))
        told["cleanings"].append(
            int((t + STEP_S + c.number * 131) // c.period_s - (t + c.number * 131) // c.period_s)
        )
        told["alarm"].append({"high": "high", "low": "medium"}.get(c.trouble) if t > c.since_utc_s else None)
        told["blind"].append(int(c.is_blind(t)))
    return told


def chart(c: Collector, begin: float, until: float, points: int, now: float) -> dict:
    until = min(until, now)
    step = max(
        1.0 if until - begin < 90_000 else 60.0 if until - begin < 60 * 86_400 else 3600.0,
        (until - begin) / points,
    )
    rows, residual = [], []
    t = begin // step * step
    while t < until:
        if not c.is_gap(t):
            found = c.low_high(t, step)
            if found is None:
                rows.append([round(t, 3), None, None, None, 2])
            else:
                rows.append([round(t, 3), *(round(v, 3) for v in found), 0])
                residual.append([round(t, 3), round(c.residual(t), 3)])
        t += step
    wide = until - begin > 26 * 3600
    cycles = []
    first = int((begin + c.number * 131) // c.period_s) + 1
    while not wide and (at := first * c.period_s - c.number * 131) < until:
        cycles.append([round(at, 1), c.start, c.stop])
        first += 1
    days = [[d * 86_400, int(86_400 // c.period_s)] for d in range(int(begin // 86_400) + 1, int(until // 86_400))]
    events_ = [e for e in events([c], now) if begin <= e["at_utc_s"] <= until]
    spans = []
    if c.trouble in ("high", "low"):
        spans.append(
            {
                "tag": f"PDA{c.trouble[0].upper()}-{c.number}",
                "priority": "high" if c.trouble == "high" else "medium",
                "from_utc_s": c.since_utc_s,
                "until_utc_s": None,
            }
        )
    spans.append(
        {"tag": f"PDAH-{c.number}", "priority": "high", "from_utc_s": now - 26_000, "until_utc_s": now - 24_500}
    )
    return {
        "from_utc_s": begin,
        "until_utc_s": until,
        "step_s": step,
        "tier": "steps" if step < 60 else "minutes" if step < 3600 else "hours",
        "rows": rows,
        "residual": residual,
        "cleanings": None if wide else cycles,
        "cleanings_a_day": days if wide else None,
        "bands": bands(c),
        "events": events_,
        "alarms": [s for s in spans if (s["until_utc_s"] or now) >= begin and s["from_utc_s"] <= until],
    }


def events(collectors: list[Collector], now: float) -> list[dict]:
    told = []
    for c in collectors:
        told += [
            _event(
                c,
                3,
                c.since_utc_s,
                "raised",
                "unacknowledged",
                f"PDAH-{c.number} raised: DP 6.41 inH2O, above 6.0",
            ),
            _event(c, 2, now - 24_500, "returned", "normal", f"PDAH-{c.number} back to normal: DP 5.62 inH2O"),
            _event(
                c, 1, now - 26_000, "raised", "unacknowledged", f"PDAH-{c.number} raised: DP 6.12 inH2O, above 6.0"
            ),
            _event(c, 0, now - 40 * 86_400, "filters_changed", None, f"new filters in {c.name}, said anna"),
        ]
    return sorted(told, key=lambda e: -e["at_utc_s"])


def _event(c: Collector, seq: int, at: float, happened: str, state: str | None, text: str) -> dict:
    return {
        "seq": c.number * 10 + seq,
        "event_id": f"e{c.number}{seq}",
        "at_utc_s": at,
        "kind": "alarm" if state else "system",
        "happened": happened,
        "collector": c.name,
        "link": None,
        "tag": f"PDAH-{c.number}" if state else None,
        "priority": "high" if state else None,
        "state": state,
        "by": None if state else "anna",
        "text": text,
    }


def detail(c: Collector, t: float) -> dict:
    told = alarms(c, t)
    n = c.number
    checks = [
        {
            "tag": f"PDAH-{n}",
            "trouble": "dead_pulse",
            "title": "cleaning valves that no longer pulse",
            "share": 0.62,
            "why": ["the DP falls by 0.2 inH2O at a cleaning; usually by 1.5", "the header pressure does not dip"],
            "check": "listen at the row of pulse valves whether each fires; look at the fuse of the timer board",
            "caution": "The header is pressurised: lock it out and let it down before opening anything.",
        },
        {
            "tag": f"PDAH-{n}",
            "trouble": "blinded",
            "title": "blinded filters",
            "share": 0.21,
            "why": ["the residual has risen by 0.4 inH2O in a week"],
            "check": "compare the residual with that of the day the filters were new",
            "caution": "",
        },
    ]
    return {
        "card": card(c, t),
        "points": [
            _point("dp", f"PDT-{n}", c.dp(t), "inH2O", t),
            _point("fan_running", f"YS-{n}", c.fan == "running", None, t),
            _point("header_pressure", f"PT-{n}", 88.4, "psi", t),
        ],
        "curve": None,
        "alarms": told,
        "checks": checks if any(a["active"] for a in told) else [],
        "signs": [{"sign": "residual_rising", "says": "the residual rises faster than usual: 0.02 inH2O a day"}]
        if n % 2
        else [],
        "air": {"sentences": ["about 412 pulses an hour", "at 0.9 ft3 a pulse that is 6.2 cfm of compressed air"]},
        "events": events([c], t),
    }


def _point(role: str, tag: str, value: object, unit: str | None, t: float) -> dict:
    bad = value is None
    return {
        "role": role,
        "tag": tag,
        "value": round(value, 3) if isinstance(value, float) else value,
        "unit": unit,
        "quality": "bad" if bad else "good",
        "reason": "loop_failed_low" if bad else "none",
        "detail": "3.42 mA" if bad else "",
        "at_utc_s": t,
    }
