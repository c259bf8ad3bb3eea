"""Web acknowledge page: the small page behind a link, for any phone: no script, one button, nothing loaded."""

import base64
import hashlib
from collections.abc import Iterable
from html import escape

_STYLE = (
    # The colours of the page (page/static/app.css).
    ":root{color-scheme:light dark;--ground:#e9e5d6;--ink:#1b2a28;--paper:#fcf9f0;--edge:#8b8f7c;--on:#fcf9f0}"
    "@media(prefers-color-scheme:dark){:root{--ground:#0b1512;--ink:#eeecdf;--paper:#14221d;--edge:#6f8276;"
    "--on:#14221d}}"
    "body{font:1.125rem/1.5 system-ui,sans-serif;margin:0 auto;max-width:34rem;padding:1rem;"
    "color:var(--ink);background:var(--ground)}main{background:var(--paper);border:.1rem solid var(--edge);"
    "border-top:.4rem solid var(--ink);padding:0 1rem}"
    "h1{font-size:1.375rem}ul{padding:0;list-style:none}li{border-left:.25rem solid var(--edge);"
    "padding:.25rem .75rem;margin:.75rem 0;overflow-wrap:anywhere}b{display:block}"
    "button{font:inherit;font-weight:700;width:100%;min-height:3.5rem;border:0;border-radius:.3rem;"
    "background:var(--ink);color:var(--on)}a{color:inherit}"
    "button:focus-visible,a:focus-visible{outline:.2rem solid var(--ink);outline-offset:.15rem}"
)
_STYLE_DIGEST = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
#: This one style, and nothing else at all; the button may be sent to us alone.
ACK_POLICY = (
    f"default-src 'none'; style-src 'sha256-{_STYLE_DIGEST}'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'self'"
)
_WARNING = (
    "Acknowledging says that you have seen it; it mends nothing and stops nothing. "
    "Do not open a collector without lock-out."
)


def ask_page(person: str, alarms: Iterable[tuple[str, str]]) -> str:
    """What would be acknowledged, and the button."""
    body = (
        f"<h1>Acknowledge as {escape(person)}?</h1>{_list(alarms)}"
        '<form method="post"><button type="submit">Acknowledge</button></form>'
        f"<p>{_WARNING}</p>"
    )
    return _document("Acknowledge", body)


def outcome_page(alarms: Iterable[tuple[str, str]]) -> str:
    """What became of each."""
    return _document("What became of it", f'<h1>What became of it</h1>{_list(alarms)}<p><a href="/">Page</a></p>')


def sorry_page(sentence: str) -> str:
    """Why nothing was done."""
    body = f'<h1>Nothing was acknowledged</h1><p>{escape(sentence)}</p><p><a href="/">Page</a></p>'
    return _document("Nothing was acknowledged", body)


def _list(alarms: Iterable[tuple[str, str]]) -> str:
    items = "".join(f"<li><b>{escape(tag)}</b>{escape(text)}</li>" for tag, text in alarms)
    return f"<ul>{items}</ul>"


def _document(title: str, body: str) -> str:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="robots" content="noindex">'
        f"<title>{escape(title)}, cakewatch</title><style>{_STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )
