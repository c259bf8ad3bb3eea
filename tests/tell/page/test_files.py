"""Files: what is in the folder is served, packed, and asked again only for whether it changed; nothing else is."""

import gzip

import pytest

from monitor.tell.page.files import FOLDER, PageFiles
from tests.tell.page.yard import Yard, served

pytestmark = pytest.mark.anyio


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "secret.txt").write_text("not a file of the page")
    static = tmp_path / "static"
    static.mkdir()
    (static / "index.html").write_text("<!doctype html>" + "<p>yard</p>" * 200)
    (static / "app.js").write_text("export const yard = 1;\n" * 100)
    (static / "notes.py").write_text("no kind of ours")
    (static / "deep").mkdir()
    (static / "deep" / "more.css").write_text("p {}")
    return static


async def test_each_file_comes_with_its_kind_and_packed_where_that_is_taken(folder):
    async with served(Yard(), folder) as page:
        status, headers, body = await page.get("/")
        assert (status, headers["content-type"]) == (200, "text/html; charset=utf-8")
        assert body == (folder / "index.html").read_bytes()
        status, headers, body = await page.get("/page/app.js", Accept_Encoding="br, gzip")
        assert headers["content-type"] == "text/javascript; charset=utf-8"
        assert gzip.decompress(body) == (folder / "app.js").read_bytes()
        assert (headers["content-encoding"], headers["vary"]) == ("gzip", "Accept-Encoding")
        _, headers, _ = await page.get("/page/app.js", Accept_Encoding="gzip;q=0")
        assert "content-encoding" not in headers


async def test_a_file_that_has_not_changed_is_not_sent_again(folder):
    async with served(Yard(), folder) as page:
        _, headers, _ = await page.get("/page/app.js")
        assert headers["cache-control"] == "no-cache"
        status, again, body = await page.get("/page/app.js", If_None_Match=f'"other", W/{headers["etag"]}')
        assert (status, body, again["etag"]) == (304, b"", headers["etag"])
        _, named, _ = await page.get("/page/app.js?v=3")
        assert "immutable" in named["cache-control"]


@pytest.mark.parametrize(
    "path",
    [
        "/page/../secret.txt", "/page/..%2fsecret.txt", "/page/%2e%2e/secret.txt", "/page/..%5csecret.txt",
        "/page/notes.py", "/page/deep", "/page/more.css", "/page/", "/page//etc/passwd", "/page/none.js",
    ],
)  # fmt: skip
async def test_nothing_else_is_served(folder, path):
    async with served(Yard(), folder) as page:
        status, _, body = await page.get(path)
        assert status == 404
        assert b"not a file of the page" not in body


async def test_without_its_files_the_page_still_answers(tmp_path):
    assert not PageFiles(tmp_path / "none").files
    async with served(Yard(), tmp_path / "none") as page:
        status, body = await page.json("/")
        assert (status, body) == (404, {"error": "the page has no such file"})
        assert (await page.get("/api/v1/plant"))[0] == 200


def test_the_first_view_is_small():
    """Everything that the page has, packed, beside a small plant: 100 kB in all."""
    packed = sum(len(one.packed or one.body) for one in PageFiles(FOLDER).files.values())
    assert packed <= 95_000
