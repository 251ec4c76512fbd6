"""Can the raster that a rig asks for exist: parent, division, picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.timings import TimingRow
from scanloom.stages.timing.raster import exact_divisors

T = TypeVar("T")


def parent_missing(read: Reading) -> Verdict:
    """The rig names no parent.

    Parameters
    ----------
    read : Reading
        Of one rig.

    Returns
    -------
    Verdict
        ``timing.parent``, unknown.
    """
    subject = f"rigs.{read.rig_name}.raster.parent"
    return read.verdict(
        "timing.parent", subject, "stop", "No parent timing is stated, so no raster is known.", state="unknown",
        settle=Settle("Name a timing that all displays accept, such as 640x480@60.", minutes=1, fact=subject),
    )  # fmt: skip


def parent_wrong(read: Reading, why: str) -> Verdict:
    """The rig names a parent that nobody knows.

    Parameters
    ----------
    read : Reading
        Has read the name.
    why : str
        The handbook's refusal.

    Returns
    -------
    Verdict
        ``timing.parent``, failed.
    """
    return read.verdict("timing.parent", f"rigs.{read.rig_name}.raster.parent", "stop", _sentence(why), state="fails")


def parent_found(read: Reading, row: TimingRow) -> Verdict:
    """The parent is a published timing; an interlaced one cannot be streamed as one frame.

    Parameters
    ----------
    read : Reading
        Has read name and timing.
    row : TimingRow
        The published timing.

    Returns
    -------
    Verdict
        ``timing.parent``: fails when interlaced, else holds.
    """
    subject = f"rigs.{read.rig_name}.raster.parent"
    if row.interlaced:
        return read.verdict(
            "timing.parent", subject, "stop",
            f"{row.name} is interlaced; the transfer list sends one field after the other only for progressive timings.", state="fails",
        )  # fmt: skip
    return read.verdict("timing.parent", subject, "stop", f"{row.name} is a published timing.", state="holds")


def divided(read: Reading, row: TimingRow, divide: int, why: str) -> Verdict:
    """Whether clock and horizontal figures divide exactly.

    Parameters
    ----------
    read : Reading
        Has read parent and divisor.
    row : TimingRow
        The published timing.
    divide : int
        Divisor, 1 or more. [1]
    why : str
        The refusal of the division; empty when it is exact.

    Returns
    -------
    Verdict
        ``timing.divide``; its remedy is the largest exact divisor below.
    """
    subject = f"rigs.{read.rig_name}.raster.divide"
    if why:
        best = max(d for d in exact_divisors(row) if d <= divide)
        return read.verdict(
            "timing.divide", subject, "stop", _sentence(why), state="fails",
            remedy=(Patch(subject, str(best), f"divide by {best}, which is exact"),),
        )  # fmt: skip
    says = "Every horizontal figure of the parent divides exactly." if divide > 1 else "The parent is sent undivided."
    return read.verdict("timing.divide", subject, "stop", says, state="holds")


def pictured(read: Reading, why: str, borders: tuple[int, int, int, int] | None, most: str) -> Verdict:
    """Whether the picture fits the active area.

    Parameters
    ----------
    read : Reading
        Has read raster, repeat and picture.
    why : str
        The refusal of the picture; empty when it fits.
    borders : tuple of int or None
        Border left and right in pixels, above and below in lines; None when it does not fit. [1]
    most : str
        Largest picture that fits, as a dossier would write it.

    Returns
    -------
    Verdict
        ``timing.picture``.
    """
    subject = f"rigs.{read.rig_name}.raster.picture"
    if why or borders is None:
        remedy = (Patch(subject, f'"{most}"', "store the largest picture that fits"),)
        return read.verdict("timing.picture", subject, "stop", _sentence(why), state="fails", remedy=remedy)
    left, right, top, bottom = borders
    if not any(borders):
        says = "The picture fills the active area."
    else:
        says = f"The picture leaves a border of {left} and {right} pixels, {top} and {bottom} lines."
    return read.verdict("timing.picture", subject, "stop", says, state="holds")


def tried(make: Callable[[], T]) -> tuple[T | None, str]:
    """Result of a sum that refuses impossible figures, or the words with which it refused.

    Parameters
    ----------
    make : callable
        The sum, without arguments.

    Returns
    -------
    tuple of (T or None, str)
        The result and no words, or none and the words of its ValueError.
    """
    try:
        return make(), ""
    except ValueError as error:
        return None, str(error)


def _sentence(why: str) -> str:
    """A refusal as a sentence."""
    return why[:1].upper() + why[1:].rstrip(".") + "."
