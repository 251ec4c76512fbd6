"""`scanloom open`: the whole plan at a glance, in the browser."""

from __future__ import annotations

import sys
import threading
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, write

Flag = Parameter(negative="")


def open_page(
    dossier: Path,
    *,
    port: int = 0,
    no_browser: Annotated[bool, Flag] = False,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Show a dossier as a page in the browser, which recomputes on every edit; stop it with Ctrl+C.

    Parameters
    ----------
    dossier
        The dossier, a TOML file; the page writes what you edit into it.
    port
        Port on this machine; any free one when absent.
    no_browser
        Print the address alone and open nothing.
    json
        Print the address as JSON.

    Returns
    -------
    int
        0 once it is stopped, or 2 when there is no such file or the port is taken.
    """

    def work() -> int:
        if not dossier.is_file():
            raise Refused(
                "DOSSIER", f"{str(dossier)!r} is no file; a dossier is allowed; name one, or make it with scanloom new"
            )
        if not 0 <= port <= 65535:
            raise Refused("--port", f"{port} is no port; 0 to 65535 are allowed; leave it out for any free one")
        from scanloom.web.server import Page

        try:
            page = Page(dossier, str(dossier), port)
        except OSError as error:
            raise Refused(
                "--port", f"port {port} cannot be used ({error.strerror}); leave it out for any free one"
            ) from None

        def ready() -> None:
            if json:
                from scanloom.report.json_text import envelope

                write(envelope("open", {"file": str(dossier), "address": page.address}))
            else:
                print(f"{dossier} is open at {page.address} (stop with Ctrl+C)")
            sys.stdout.flush()
            if not no_browser:
                page.open_browser()
            threading.Thread(target=_warm, daemon=True).start()

        page.serve(ready)
        return 0

    return answer("open", json, work)


def _warm() -> None:
    """Load in the background what a first report needs, so that nobody waits for it."""
    import scanloom.report.html_report  # noqa: F401
