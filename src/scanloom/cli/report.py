"""`scanloom report`: one file to print or send."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, write

Flag = Parameter(negative="")
_MARK = b"<!-- scanloom report -->"


def report(
    dossier: Path,
    *,
    to: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None,
    pdf: Annotated[bool, Flag] = False,
    browser: str | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Write the whole survey of a dossier, with its drawings, into one HTML file to print or send.

    Parameters
    ----------
    dossier
        The dossier, a TOML file.
    to
        File to write, or - for standard output; beside the dossier, named after it, when absent.
    pdf
        Print a PDF too, with an installed browser of the Chromium family.
    browser
        Path of the browser for --pdf.
    json
        Print where it was written, as JSON.

    Returns
    -------
    int
        0, or 2 when the dossier cannot be read or the report cannot be written.
    """

    def work() -> int:
        from scanloom.formats.dossier_file import read_dossier
        from scanloom.report.html_report import html_report
        from scanloom.survey import survey_plan

        if browser is not None and not pdf:
            raise Refused("--browser", "it goes with --pdf; add it or leave it out")
        if to == "-" and (pdf or json):
            raise Refused("--to", "'-' is standard output and holds the report alone; name a file")
        file = read_dossier(dossier, str(dossier))
        text = html_report(file, survey_plan(file.plan))
        if to == "-":
            write(text)
            return 0
        target = Path(to) if to is not None else dossier.with_name(f"{dossier.stem}-report.html")
        _write(target, text)
        printed = _print(target, browser) if pdf else None
        if json:
            from scanloom.report.json_text import envelope

            digest = hashlib.sha256(text.encode()).hexdigest()
            named = {"file": str(target), "sha256": digest, "pdf": str(printed) if printed else None}
            write(envelope("report", named))
        else:
            print(f"Written to {target}{f' and {printed}' if printed else ''}.")
        return 0

    return answer("report", json, work)


def _write(target: Path, text: str) -> None:
    """Write the report; a file that is none of ours stays."""
    if target.exists():
        if not target.is_file():
            raise Refused("--to", f"{target} is no ordinary file; a file name is allowed; give one")
        with target.open("rb") as old:
            if _MARK not in old.read(200):
                raise Refused(
                    "--to", f"{target} is there and is no report; only a report is written over; give another name"
                )
    from scanloom.formats.text_file import FileFault
    from scanloom.formats.text_write import write_text_atomically

    try:
        write_text_atomically(target, text, None)
    except FileFault as error:
        raise Refused("--to", f"{target} {error.text}") from None


def _print(target: Path, browser: str | None) -> Path:
    """PDF beside the report; where nothing can print, the HTML stays and the reason is told."""
    from scanloom.report.printing import NoBrowser, find_browser, print_pdf

    pdf = target.with_suffix(".pdf")
    try:
        print_pdf(target, pdf, browser if browser is not None else find_browser())
    except NoBrowser as error:
        raise Refused("--pdf", f"{error}. The report itself is in {target}") from None
    return pdf
