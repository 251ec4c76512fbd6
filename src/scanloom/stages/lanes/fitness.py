"""What may hang on a pin: a colour or a sync, driven by the pin itself or through a buffer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from scanloom.basis.fact import Known, merged
from scanloom.dossier.model import Display
from scanloom.dossier.plan import Plan
from scanloom.handbook.chip import Pin

Fit = Literal["fit", "last", "no"]
"""Fit for a job, a last resort, or not to be used for it."""

DEAD_ROLES = frozenset({"flash", "absent", "input only"})
"""Roles that no buffer helps against: the pin cannot drive, or drives something else."""


def buffer_lifts(row: Pin) -> bool:
    """Whether a row speaks against a lane only because of what hangs on the lane.

    Parameters
    ----------
    row : Pin
        A row of the chip on a pin, with a current limit of its own where that differs. [A]

    Returns
    -------
    bool
        True for a boot pin: it cares for its level at reset, and the input of a buffer neither loads nor pulls it.
    """
    return row.boot in ("must be high", "must be low") and row.role not in DEAD_ROLES


def row_fit(row: Pin, *, sync: bool, buffered: bool) -> Fit:
    """What one row of the chip says of a job.

    Parameters
    ----------
    row : Pin
        The row, with a current limit of its own where that differs. [A]
    sync : bool
        Whether the pin is to carry a sync; else a colour.
    buffered : bool
        Whether it drives the input of a buffer; else the displays.

    Returns
    -------
    Fit
        Boot roles are kept even where the row itself allows anything: a colour load pulls a pin down, a sync input may pull
        it to either side.
    """
    if row.role in DEAD_ROLES:
        return "no"
    if buffered and buffer_lifts(row):
        return "last" if row.allow == "last" else "fit"
    if buffered and row.role == "serial out":
        return "last" if row.allow in ("last", "none") else "fit"  # only the port is lost, nothing loads it
    if row.allow == "none" or (row.allow == "colour" and sync):
        return "no"
    if not buffered and (row.boot == "must be high" or (row.boot == "must be low" and sync)):
        return "no"
    return "last" if row.allow == "last" else "fit"


def pin_fit(rows: Sequence[Pin], *, sync: bool, buffered: bool) -> Fit:
    """What all rows on a pin say of a job: the hardest counts.

    Parameters
    ----------
    rows : sequence of Pin
        Rows of the chip on the pin; none for an ordinary output. [A]
    sync : bool
        Whether the pin is to carry a sync; else a colour.
    buffered : bool
        Whether it drives the input of a buffer; else the displays.

    Returns
    -------
    Fit
        Fit without any row.
    """
    found = {row_fit(row, sync=sync, buffered=buffered) for row in rows}
    return "no" if "no" in found else "last" if "last" in found else "fit"


def colour_style(plan: Plan, display: Display | None) -> Known[str] | None:
    """How the colours of a display are wired: the style of its group, or the board's.

    Parameters
    ----------
    plan : Plan
        The plan.
    display : Display or None
        The display; None for a connector without one.

    Returns
    -------
    Known or None
        It rests on the display's group where groups have styles of their own; None when no style is stated.
    """
    levels = plan.dossier.levels
    if levels is None:
        return None
    stage, group = levels.colour, display.group if display is not None else None
    if group is not None and group.value in levels.groups:
        stage = levels.groups[group.value]
    if stage is None or stage.style is None:
        return None
    if group is None or not levels.groups:
        return stage.style
    return Known(stage.style.value, merged((*stage.style.facts, *group.facts)))
