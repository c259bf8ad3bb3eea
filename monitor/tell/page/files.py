"""Files: the files of the page, read once, packed once, and served from memory.

Only what was found when they were read is served, so no path leads anywhere else. A browser asks again each time
whether a file has changed (its ETag); one that names the version in its query may keep it for a year.
"""

import gzip
import hashlib
import logging
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

log = logging.getLogger(__name__)

#: Beside this module, part of the package.
FOLDER = Path(__file__).with_name("static")
INDEX = "index.html"

_KINDS: Mapping[str, str] = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".txt": "text/plain; charset=utf-8",
}
_FOREVER = "public, max-age=31536000, immutable"


class PageFile(NamedTuple):
    """One file as it is served; ``packed`` is empty where packing does not pay."""

    kind: str
    body: bytes
    packed: bytes
    etag: str


class PageFiles:
    """The files of one folder, without those below it.

    Args:
        folder: where they lie; one that is missing or cannot be read leaves the page without files, no more.
    """

    def __init__(self, folder: Path = FOLDER) -> None:
        self.files: Mapping[str, PageFile] = dict(_read(folder))
        if INDEX not in self.files:
            log.warning("the page has no files folder=%s", folder)

    def answer(self, request: Request, name: str) -> Response:
        """One file, or that it has not changed, or that there is none."""
        found = self.files.get(name)
        if found is None:
            return JSONResponse({"error": "the page has no such file"}, 404, {"Cache-Control": "no-store"})
        named = "v" in request.query_params and name != INDEX
        headers = {
            "Cache-Control": _FOREVER if named else "no-cache",
            "ETag": found.etag,
            "Vary": "Accept-Encoding",
            "X-Content-Type-Options": "nosniff",
        }
        if found.etag in _tags(request.headers.get("if-none-match", "")):
            return Response(status_code=304, headers=headers)
        headers["Content-Type"] = found.kind
        if found.packed and takes_gzip(request):
            return Response(found.packed, headers=headers | {"Content-Encoding": "gzip"})
        return Response(found.body, headers=headers)


def takes_gzip(request: Request) -> bool:
    """Whether the one who asks says that gzip may be sent (RFC 9110 §12.5.3)."""
    for part in request.headers.get("accept-encoding", "").split(","):
        coding, _, weight = part.strip().partition(";")
        if coding.strip().casefold() in ("gzip", "*"):
            return weight.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False


def _read(folder: Path) -> list[tuple[str, PageFile]]:
    try:
        paths = sorted(path for path in folder.iterdir() if path.is_file() and path.suffix in _KINDS)
        return [(path.name, _file(path)) for path in paths]
    except OSError as error:
        log.warning("the page's files cannot be read folder=%s why=%s", folder, error)
        return []


def _file(path: Path) -> PageFile:
    body = path.read_bytes()
    packed = gzip.compress(body, 9, mtime=0)
    etag = f'"{hashlib.sha256(body).hexdigest()[:20]}"'
    return PageFile(_KINDS[path.suffix], body, packed if len(packed) < 0.9 * len(body) else b"", etag)


def _tags(header: str) -> set[str]:
    return {tag.strip().removeprefix("W/") for tag in header.split(",")}
