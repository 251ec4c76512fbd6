"""A page served from this process and a browser that looks at it; every test fails on an error or an outside request."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from scanloom.web.server import Page as Served

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples/deep-station"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass
class Open:
    """A dossier in a folder of its own, open in the page."""

    path: Path
    served: Served
    thread: threading.Thread
    told: list[str] = field(default_factory=list)

    def url(self, rest: str = "") -> str:
        return f"{self.served.address}{rest}"

    def text(self) -> str:
        return self.path.read_text(encoding="utf-8")

    def change(self, old: str, new: str) -> None:
        """What a text editor does: the whole file, by another name and then renamed."""
        text = self.text()
        assert old in text
        spare = self.path.with_suffix(".swp")
        spare.write_text(text.replace(old, new), encoding="utf-8")
        spare.replace(self.path)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Callable[[str], Open]]:
    """Function that opens a copy of an example, or a text of one's own."""
    made: list[Open] = []

    def start(what: str) -> Open:
        path = tmp_path / f"{len(made)}" / "dossier.toml"
        path.parent.mkdir()
        if "\n" in what:
            path.write_text(what, encoding="utf-8")
        else:
            shutil.copy(EXAMPLES / f"{what}.toml", path)
        served = Served(path, path.name)
        thread = threading.Thread(target=served.serve, daemon=True)
        thread.start()
        assert served.ready.wait(20)
        made.append(Open(path, served, thread))
        return made[-1]

    yield start
    for one in made:
        one.served.stop()
        one.thread.join(10)
        assert not one.thread.is_alive(), "the server does not stop"


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """Chromium as Debian packs it."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium")
    assert path is not None
    with sync_playwright() as play:
        one = play.chromium.launch(executable_path=path, args=list(FLAGS))
        yield one
        one.close()


@pytest.fixture
def view(browser, request):  # type: ignore[no-untyped-def]
    """Function that gives a tab of a size and look; complaints of the tab fail the test."""
    made, faults = [], []

    def tab(width: int = 1440, height: int = 900, look: str = "light", **more: object):  # type: ignore[no-untyped-def]
        context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=look, **more)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("console", lambda m: faults.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: faults.append(str(e)))
        page.on("request", lambda r: None if r.url.startswith(("http://127.0.0.1:", "data:")) else faults.append(r.url))
        made.append(context)
        return page

    yield tab
    for context in made:
        context.close()
    assert faults == []
