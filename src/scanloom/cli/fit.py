"""Commands for the first five minutes: fit, new."""

from __future__ import annotations

import contextlib
import os
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write

if TYPE_CHECKING:
    from scanloom.handbook.chip import Chip
    from scanloom.survey.fit import FitRow
    from scanloom.survey.wish import Wish

Flag = Parameter(negative="")
_SLOW = 3
"""Chips from which on a bar shows how far the search is."""


def fit(
    wish: str,
    *,
    chip: str = "all",
    limit: int = 12,
    json: Annotated[bool, Flag] = False,
) -> int:
    """List plans that would grant a wish, best first: parent, picture, depth, stream, bytes, pins, current.

    Parameters
    ----------
    wish
        Displays in one line, such as "6 displays: 2 colour, 4 green".
    chip
        Chip of the handbook, a path to your own chip file, or all.
    limit
        Plans wanted.
    json
        Print JSON.

    Returns
    -------
    int
        0 when a plan fits, 1 when none does, 2 when the wish cannot be read.
    """

    def work() -> int:
        if limit < 1:
            raise Refused("--limit", f"{limit} plans: 1 or more are allowed; give the plans wanted")
        wanted = _wish(wish)
        rows = _search(wanted, _chips(chip))
        fitting = sum(row.fits for row in rows)
        if json:
            from scanloom.report.fit_text import fit_doc
            from scanloom.report.json_text import envelope

            write(envelope("fit", fit_doc(wanted, rows, limit)))
        else:
            from scanloom.report.fit_text import after_fit, fit_sheet

            console().print(fit_sheet(wanted, rows, limit))
            if line := after_fit(wanted, rows, chip):
                print(line)
        return 0 if fitting else 1

    return answer("fit", json, work)


def new(
    file: Path,
    *,
    wish: str,
    chip: str = "wifi240",
    row: int = 1,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Write a commented starter dossier for a wish: every fact a guess, with a list of what to measure.

    Parameters
    ----------
    file
        The dossier to write; must not exist yet.
    wish
        Displays in one line, such as "6 displays: 2 colour, 4 green".
    chip
        Chip of the handbook, or a path to your own chip file.
    row
        Which plan of `scanloom fit` to take, from 1.
    json
        Print JSON.

    Returns
    -------
    int
        0, or 2 when the wish cannot be read or the file exists.
    """

    def work() -> int:
        from scanloom.formats.dossier_file import read_dossier_text
        from scanloom.survey.starter import starter_pins, write_starter

        wanted = _wish(wish)
        if file.exists():
            raise _taken(file)
        (record,) = _chips(chip) if chip != "all" else (None,)
        if record is None:
            raise Refused("--chip", "a starter is for one chip; name it; see scanloom fit for all")
        rows = _search(wanted, (record,))
        if not 1 <= row <= len(rows):
            raise Refused(
                "--row",
                f"there is no plan {row}; {f'1 to {len(rows)} are' if rows else 'none is'} there; see scanloom fit",
            )
        chosen = rows[row - 1]
        like = _beside(chip, file)
        bare = write_starter(wanted, like, record, chosen, None)
        pins, why = starter_pins(read_dossier_text(bare, file).plan)
        text = write_starter(wanted, like, record, chosen, pins)
        if pins is None:
            text += f"# No map of pins was found: {why}\n"
        read_dossier_text(text, file)  # what is written can be read
        _create(file, text)
        if json:
            from scanloom.report.fit_text import new_doc
            from scanloom.report.json_text import envelope

            write(envelope("new", new_doc(str(file), chosen)))
        else:
            from scanloom.report.fit_text import new_sheet

            console().print(new_sheet(str(file), chosen))
            print(f"Next: scanloom check {shlex.quote(str(file))}")
        return 0

    return answer("new", json, work)


def _wish(text: str) -> Wish:
    """The wish, or why it cannot be read."""
    from scanloom.survey.wish import read_wish

    try:
        return read_wish(text)
    except ValueError as error:
        raise Refused("WISH", str(error)) from None


def _chips(name: str) -> tuple[Chip, ...]:
    """One chip, or all of the handbook."""
    from scanloom.cli.sheets import find_chip
    from scanloom.handbook.chips import chip, chip_names

    if name == "all":
        return tuple(chip(one) for one in chip_names())
    return (find_chip(name, "--chip"),)


def _search(wish: Wish, chips: tuple[Chip, ...]) -> tuple[FitRow, ...]:
    """Plans on all chips, with a bar on a terminal while it takes long."""
    from scanloom.survey.fit import merged_rows, propose_fit

    if len(chips) < _SLOW or not sys.stderr.isatty():
        return merged_rows([propose_fit(wish, one) for one in chips])
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    found = []
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task("chips", total=float(len(chips)))
        for number, one in enumerate(chips):
            bar.update(task, description=one.name)

            def step(done: int, of: int, number: int = number) -> None:
                bar.update(task, completed=number + done / of)

            found.append(propose_fit(wish, one, step))
    return merged_rows(found)


def _beside(chip: str, file: Path) -> str:
    """A chip as the dossier names it: paths start at the dossier, what is typed starts at the current folder."""
    if ("/" not in chip and not chip.endswith(".toml")) or Path(chip).is_absolute():
        return chip
    try:
        path = Path(os.path.relpath(chip, file.parent)).as_posix()
    except ValueError:  # another drive
        return Path(chip).resolve().as_posix()
    return path if path.startswith("..") else f"./{path}"


def _taken(file: Path) -> Refused:
    """A file that must not be written over."""
    return Refused("FILE", f"'{file}' exists; a new file is wanted; choose another name, or move the old one away")


def _create(file: Path, text: str) -> None:
    """Write a new file whole, or not at all; never over one that came into being meanwhile."""
    from scanloom.formats.input_error import InputError, InputFault
    from scanloom.formats.text_file import FileFault
    from scanloom.formats.text_write import file_sha256, write_text_atomically

    try:
        with contextlib.suppress(FileNotFoundError, PermissionError, NotADirectoryError):  # the writer says it better
            file.touch(exist_ok=False)
    except FileExistsError:
        raise _taken(file) from None
    except OSError as error:
        raise Refused(
            "FILE", f"'{file}' cannot be made: {error.strerror}; a new file is wanted; choose another place"
        ) from None
    try:
        write_text_atomically(file, text, file_sha256("") if file.exists() else None)
    except FileFault as error:
        if file.exists() and not file.stat().st_size:
            file.unlink()
        raise InputError((InputFault(str(file), 0, 0, "", error.text),)) from None
