"""Logic families that drive colour or sync."""

from __future__ import annotations

from functools import cache

from scanloom.basis.record import record
from scanloom.handbook.limits import LimitRow, limit_row, named_row
from scanloom.handbook.load import table


@record
class Buffer:
    """What outputs of a logic family give; each figure has its own source.

    Parameters
    ----------
    family : str
        Name of the family.
    rail_v : float
        Supply the figures are for. [V]
    resistance : LimitRow
        Typical output resistance at either level. [ohm]
    most_high : LimitRow
        Largest output resistance when high. [ohm]
    most_low : LimitRow
        Largest output resistance when low. [ohm]
    output_current : LimitRow
        Current of one output: typical as rated, high as absolute most. [A]
    package_current : LimitRow
        Absolute most through a supply pin, all outputs together. [A]
    input_current : LimitRow
        Current into one input: typical, and at most. [A]
    outputs : int
        Outputs of one package. [1]
    off_current : LimitRow or None
        Leakage of an output without supply; None where a clamp leads from it to the supply. [A]
    """

    family: str
    rail_v: float
    resistance: LimitRow
    most_high: LimitRow
    most_low: LimitRow
    output_current: LimitRow
    package_current: LimitRow
    input_current: LimitRow
    outputs: int
    off_current: LimitRow | None = None


@cache
def buffer(family: str) -> Buffer:
    """One logic family.

    Parameters
    ----------
    family : str
        ``LVC``, ``AHC`` or ``HC``.

    Returns
    -------
    Buffer
        Its figures and their sources.

    Raises
    ------
    ValueError
        If there is no such family.
    """
    raw = named_row("buffers", family)
    rows = {name: limit_row(f"{family}.{name}", row) for name, row in raw.items() if name not in ("rail_v", "outputs")}
    return Buffer(family=family, rail_v=raw["rail_v"], outputs=raw["outputs"], **rows)


def buffer_families() -> tuple[str, ...]:
    """Families that `buffer` takes.

    Returns
    -------
    tuple of str
        In the order of the table.
    """
    return tuple(table("buffers"))
