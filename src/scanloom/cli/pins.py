"""`scanloom pins`: a map of lanes to pins, proposed."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write

if TYPE_CHECKING:
    from rich.progress import Progress

Flag = Parameter(negative="")
_WAIT_S = 0.5
"""A search that takes longer than this shows a bar. [s]"""
_LONGEST_S = 3600.0
"""Longest search that may be asked for. [s]"""


def pins(
    dossier: Path,
    *,
    keep: Annotated[list[str] | None, Parameter(negative="")] = None,
    no_buffers: Annotated[bool, Flag] = False,
    seconds: float = 5.0,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Propose pins for every colour lane and both syncs, for all rigs at once; or prove that there are too few.

    Parameters
    ----------
    dossier
        The dossier, a TOML file; pins need not be stated.
    keep
        Connector whose stated pins are wired already and stay; sync for the syncs, all for every stated pin. May be repeated.
    no_buffers
        Give no sync a buffer where the dossier states none.
    seconds
        Longest search; then the best map so far is shown with what no map undercuts.
    json
        Print JSON.

    Returns
    -------
    int
        0 when there is a map, 1 when there is none or none was found in time, 2 when the input cannot be read.
    """

    def work() -> int:
        from scanloom.formats.dossier_file import read_dossier
        from scanloom.stages.lanes.propose import propose_pins
        from scanloom.stages.lanes.propose_answer import PinProposal
        from scanloom.stages.lanes.propose_plan import wish_for

        if not 0 < seconds <= _LONGEST_S:
            raise Refused(
                "--seconds", f"{seconds:g} is no time to search; more than 0, up to {_LONGEST_S:g} s are allowed"
            )
        file = read_dossier(dossier, str(dossier))
        try:
            wish = wish_for(file.plan, keep=keep or (), may_buffer=not no_buffers)
        except ValueError as error:
            raise Refused("--keep" if "names no connector" in str(error) else "DOSSIER", str(error)) from None
        with _waiting(seconds) as go_on:
            found = propose_pins(wish, budget=sys.maxsize, go_on=go_on)
        chip = file.plan.chip.name if file.plan.chip else ""
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.pins_text import pins_doc

            write(envelope("pins", pins_doc(file.shown, chip, found)))
        else:
            from scanloom.report.pins_text import next_line, pins_sheet

            console().print(pins_sheet(file.shown, file.plan.dossier.dossier.title, chip, found))
            if line := next_line(file.shown, found):
                print(line)
        return 0 if isinstance(found, PinProposal) else 1

    return answer("pins", json, work)


@contextmanager
def _waiting(seconds: float) -> Iterator[Callable[[], bool]]:
    """A question that a search asks now and then: may it go on? On a terminal a bar shows how much time is used up."""
    began = time.monotonic()
    bar: list[Progress] = []

    def go_on() -> bool:
        """Whether there is time left."""
        used = time.monotonic() - began
        if used > _WAIT_S and not bar and sys.stderr.isatty():
            bar.append(search_bar("time to search", seconds))
        if bar:
            bar[0].update(bar[0].task_ids[0], completed=min(used, seconds))
        return used < seconds

    try:
        yield go_on
    finally:
        for one in bar:
            one.stop()


def search_bar(what: str, total: float) -> Progress:
    """A bar on standard error, already running, that goes away in the end.

    Parameters
    ----------
    what
        What is counted.
    total
        How much of it there is.

    Returns
    -------
    Progress
        The bar.
    """
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    made = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    made.add_task(what, total=total)
    made.start()
    return made
