"""Can the raster that a rig asks for exist: parent, formula, division, picture."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.timings import TimingRow, parent_way
from scanloom.stages.timing.formula import listed_twin
from scanloom.stages.timing.formula_words import formula_caution, is_small
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


def formula_wrong(read: Reading, why: str) -> Verdict:
    """No raster comes of the formula that the rig names.

    Parameters
    ----------
    read : Reading
        Has read parent and formula.
    why : str
        The refusal.

    Returns
    -------
    Verdict
        ``timing.formula``, failed, to stop for.
    """
    return read.verdict("timing.formula", f"rigs.{read.rig_name}.raster.formula", "stop", _sentence(why), state="fails")


def formula_used(read: Reading, row: TimingRow, cautions: tuple[str, ...]) -> Verdict:
    """The parent is computed: nobody promises it, so the maker must accept it knowingly.

    Parameters
    ----------
    read : Reading
        Has read parent, formula and the handbook's row.
    row : TimingRow
        The computed timing.
    cautions : tuple of str
        What has to be said of it, the main sentence first.

    Returns
    -------
    Verdict
        ``timing.formula``, failed, a caution; below about 640x480, or where a list holds the timing, the remedy is a
        published parent.
    """
    subject = f"rigs.{read.rig_name}.raster.formula"
    more = "".join(f" {sentence}" for sentence in cautions[1:])
    return read.verdict(
        "timing.formula", subject, "caution", f"{formula_caution(row)}{more}", state="fails",
        settle=Settle(
            f"Plug each display into a bench board that sends {row.name} and watch it for an hour.",
            "every display shows a steady picture: accept this, and write the timing into proved",
            "one does not lock: name a published parent", 60, subject,
        ),
        remedy=_without_formula(read, row),
    )  # fmt: skip


def parent_patch(read: Reading, name: str, says: str) -> Patch:
    """The change that gives a rig another published parent; a formula goes with the old one.

    Parameters
    ----------
    read : Reading
        Of one rig.
    name : str
        Name of the published timing.
    says : str
        What the change is.

    Returns
    -------
    Patch
        Of the parent alone, or of the whole raster where a formula is stated.
    """
    choice, key = read.rig.raster, f"rigs.{read.rig_name}.raster"
    if choice is None or choice.formula is None:
        return Patch(f"{key}.parent", f'"{name}"', says)
    kept = [f'parent = "{name}"']
    kept += [f"divide = {choice.divide.value}"] if choice.divide else []
    kept += [f"repeat = {choice.repeat.value}"] if choice.repeat else []
    kept += ['picture = "{}x{}"'.format(*choice.picture.value)] if choice.picture else []
    return Patch(key, f"{{ {', '.join(kept)} }}", says)


def _without_formula(read: Reading, row: TimingRow) -> tuple[Patch, ...]:
    """The published parent that carries the same stored picture, where a formula should not be used."""
    twin, choice = listed_twin(row), read.rig.raster
    if twin is not None:
        return (parent_patch(read, twin.names[-1], "name the published timing, which is the same"),)
    if not is_small(row) or choice is None:
        return ()
    divide, repeat = (known.value if known else 1 for known in (choice.divide, choice.repeat))
    width, rows = choice.picture.value if choice.picture else (row.active_px // divide, row.active_lines // repeat)
    way = parent_way(width, rows, row.nominal_hz)
    if way is None:
        return ()
    return (Patch(f"rigs.{read.rig_name}.raster", f"{{ {way.keys} }}", "send a child of a published parent"),)


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
