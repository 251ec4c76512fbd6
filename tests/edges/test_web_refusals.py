"""The server of the page lets nobody in but the page: hosts, origins, tokens, paths, bodies; and it stops when told."""

from __future__ import annotations

import http.client
import re
import shutil
import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from scanloom.web.fields import outside
from scanloom.web.guard import MOST_BODY_BYTES
from scanloom.web.server import Page

ROOT = Path(__file__).resolve().parents[2]
EDIT = {"sheet": "levels", "key": "levels.colour.part", "value": "249 ohm ± 1 %", "was-value": "240 ohm ± 1 %"}


class Live:
    """A server with a copy of the demo, asked by hand."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "dossier.toml"
        shutil.copy(ROOT / "examples/deep-station/final.toml", self.path)
        self.page = Page(self.path, "dossier.toml")
        self.thread = threading.Thread(target=self.page.serve, daemon=True)
        self.thread.start()
        assert self.page.ready.wait(20)
        self.host = f"127.0.0.1:{self.page.port}"

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, str, dict[str, str]]:
        """One request; headers are given with underscores, an empty one is left out."""
        given = {"Host": self.host} | {name.replace("_", "-"): value for name, value in headers.items()}
        link = http.client.HTTPConnection("127.0.0.1", self.page.port, timeout=10)
        link.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in given.items():
            if value:
                link.putheader(name, value)
        link.endheaders()
        try:
            if body:
                link.send(body)
        except (BrokenPipeError, ConnectionResetError):
            pass  # refused before all was sent, which is the point
        answer = link.getresponse()
        text = answer.read().decode()
        link.close()
        return answer.status, text, {k.lower(): v for k, v in answer.getheaders()}

    def post(self, path: str, form: dict[str, str], **headers: str) -> tuple[int, str, dict[str, str]]:
        """A form as the page would send it, but for what is given otherwise."""
        body = urlencode(form).encode()
        usual = {
            "Origin": f"http://{self.host}",
            "X_Page_Token": self.page.token,
            "Content_Type": "application/x-www-form-urlencoded",
            "Content_Length": f"{len(body)}",
        }
        return self.ask("POST", path, body, **(usual | headers))


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    one = Live(tmp_path)
    yield one
    one.page.stop()
    one.thread.join(10)
    assert not one.thread.is_alive()


def test_the_page_itself_may_read_and_write(live: Live) -> None:
    status, text, headers = live.ask("GET", "/sheet/levels")
    assert status == 200 and live.page.token in text
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'") and "unsafe" not in policy
    assert live.ask("GET", "/sheet/levels", Host=f"localhost:{live.page.port}")[0] == 200
    assert live.post("/write", EDIT)[0] == 200
    assert "249 ohm" in live.path.read_text(encoding="utf-8")


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost", "evil.example:80", "127.0.0.1:1", ""])
def test_a_foreign_host_is_refused(live: Live, host: str) -> None:
    """DNS rebinding: a name of somebody else's that leads to this machine."""
    status, text, _ = live.ask("GET", "/sheet/levels", Host=host)
    assert status == 400 and live.page.token not in text


@pytest.mark.parametrize("origin", ["https://evil.example", "null", "http://127.0.0.1", "http://localhost:1"])
def test_a_foreign_origin_is_refused(live: Live, origin: str) -> None:
    assert live.post("/write", EDIT, Origin=origin)[0] == 403
    assert live.ask("GET", "/sheet/levels", Origin=origin)[0] == 403
    assert "249" not in live.path.read_text(encoding="utf-8")


@pytest.mark.parametrize("token", ["", "guessed", "\u00e9"])
def test_without_the_pages_token_nothing_is_written(live: Live, token: str) -> None:
    for path in ("/write", "/look", "/try", "/take", "/accept", "/undo", "/ask"):
        assert live.post(path, EDIT, X_Page_Token=token)[0] == 403
    assert live.post("/write", EDIT, Origin="")[0] == 403, "no origin at all"
    assert "249" not in live.path.read_text(encoding="utf-8")


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_refused(live: Live, method: str) -> None:
    assert live.ask(method, "/sheet/levels")[0] == 405


@pytest.mark.parametrize(
    "path",
    [
        "/static/../../../pyproject.toml",
        "/static/..%2f..%2fdossier.toml",
        "/static/%2e%2e/web/server.py",
        "/static/vendor.json",
        "/static//etc/passwd",
        "/../dossier.toml",
        "/dossier.toml",
        "/sheet/../../etc/passwd",
        "/sheet/nothing",
    ],
)
def test_no_path_leads_out(live: Live, path: str) -> None:
    status, text, _ = live.ask("GET", path)
    assert status == 404 and "root:" not in text and "[project]" not in text


@pytest.mark.parametrize("value", ["../mine.toml", "/etc/mine.toml", "sub/../../mine.toml", "..\\mine.toml"])
def test_files_outside_the_folder_cannot_be_named_from_the_page(live: Live, value: str) -> None:
    form = {"sheet": "clock", "key": "chip.like", "value": value, "was-value": "wifi240"}
    status, text, _ = live.post("/write", form)
    assert status == 200 and ("outside the dossier" in text or "wifi240, " in text or "is no file" in text)
    assert "mine.toml" not in re.sub(r"#.*", "", live.path.read_text(encoding="utf-8"))


def test_files_inside_may_be_named(tmp_path: Path) -> None:
    assert outside("chip.like", "./mine.toml", tmp_path) == ""
    assert outside("displays.x.edid", "sub/x.bin", tmp_path) == ""
    assert outside("displays.x.edid", "../x.bin", tmp_path) != ""
    assert outside("displays.x.cable", "../thin, 2 m", tmp_path) == "", "no file is meant there"


def test_large_bodies_are_refused_told_or_not(live: Live) -> None:
    body = b"value=" + b"x" * 100_000  # the first of 20 MB; the answer comes before the rest
    usual = {
        "Origin": f"http://{live.host}",
        "X_Page_Token": live.page.token,
        "Content_Type": "application/x-www-form-urlencoded",
    }
    assert live.ask("POST", "/write", body, Content_Length="20000000", **usual)[0] == 413
    chunk = b"value=" + b"x" * (MOST_BODY_BYTES + 100)
    chunked = f"{len(chunk):x}\r\n".encode() + chunk + b"\r\n0\r\n\r\n"
    assert live.ask("POST", "/write", chunked, Transfer_Encoding="chunked", **usual)[0] == 413
    assert live.ask("GET", "/sheet/levels")[0] == 200, "the server goes on"


def test_forms_that_no_page_sends_are_refused_in_words(live: Live) -> None:
    for form in ({}, {"sheet": "levels"}, {"sheet": "levels", "key": "a", "item": "-1"}, {"sheet": "no", "key": "a"}):
        assert live.post("/write", form)[0] == 400
    for key in ("dossier.format", "accepted.1.mark", "no.such", "chip", "displays.nobody.cable"):
        status, text, _ = live.post("/write", EDIT | {"key": key})
        assert status == 200 and 'class="err"' in text
    assert "249" not in live.path.read_text(encoding="utf-8")


@pytest.mark.skipif(sys.platform != "linux", reason="only there all of 127.0.0.0/8 leads to this machine")
def test_just_one_address_is_listened_on(live: Live) -> None:
    """A server that listens on every address would answer on this one too."""
    with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.2", live.page.port), timeout=2):
        pass


def test_it_stops_while_a_page_listens(live: Live) -> None:
    link = http.client.HTTPConnection("127.0.0.1", live.page.port, timeout=10)
    link.request("GET", "/events", headers={"Host": live.host})
    answer = link.getresponse()
    assert answer.readline() == b"event: changed\n"
    began = time.perf_counter()
    live.page.stop()
    live.thread.join(10)
    answer.close()
    link.close()
    assert not live.thread.is_alive()
    assert time.perf_counter() - began < 3.0


def test_names_from_a_dossier_cannot_become_markup(live: Live) -> None:
    text = live.path.read_text(encoding="utf-8")
    live.path.write_text(
        text.replace('title = "Deep Station control room"', "title = '<script>alert(1)</script>'"), encoding="utf-8"
    )
    for _ in range(50):
        page = live.ask("GET", "/sheet/levels")[1]
        if "&lt;script&gt;alert" in page:
            break
        time.sleep(0.1)
    assert "&lt;script&gt;alert(1)" in page and "<script>alert" not in page
    markup = re.sub(r"<script src=[^>]*></script>", "", page)
    assert "<script" not in markup and not re.search(r"<[^>]+ (style|on[a-z]+)=", markup)
