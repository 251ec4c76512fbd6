"""Printing the report to PDF with a browser that is already there."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "chrome",
    "microsoft-edge-stable",
    "microsoft-edge",
    "msedge",
)
"""Names under which browsers of the Chromium family are installed."""
_MOST_S = 120
_FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-pdf-header-footer",
)


class NoBrowser(Exception):
    """No browser can print: says what was looked for and what to do."""


def find_browser() -> str:
    """Path of a browser that can print without a window.

    Returns
    -------
    str
        The first one found.

    Raises
    ------
    NoBrowser
        If none is installed.
    """
    for name in BROWSERS:
        found = shutil.which(name)
        if found is not None:
            return found
    raise NoBrowser(
        "no browser of the Chromium family is installed; one of them prints the PDF; install one, name yours with --browser, "
        "or open the HTML and print it there"
    )


def print_pdf(html: Path, pdf: Path, browser: str) -> None:
    """Print a report.

    Parameters
    ----------
    html : Path
        The report.
    pdf : Path
        Where the PDF goes.
    browser : str
        The browser's path.

    Raises
    ------
    NoBrowser
        If the browser does not start or prints nothing.
    """
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        made = Path(folder) / "report.pdf"
        # a profile of its own, so that a browser that is open already does not take the job and drop it
        command = [
            browser,
            *_FLAGS,
            f"--user-data-dir={folder}/profile",
            f"--print-to-pdf={made}",
            html.resolve().as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # its sandbox refuses to run as root
        try:
            done = subprocess.run(command, capture_output=True, check=False, timeout=_MOST_S)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise NoBrowser(
                f"{browser} does not print ({error}); a browser of the Chromium family does; name another"
            ) from None
        if done.returncode or not made.is_file() or made.stat().st_size == 0:
            last = done.stderr.decode("utf-8", "replace").strip().splitlines()
            why = last[-1] if last else f"exit code {done.returncode}"
            raise NoBrowser(f"{browser} printed nothing ({why}); a browser of the Chromium family does; name another")
        shutil.move(made, pdf)
