"""Assumptions on a display's front end and on the signal's surroundings, each with its source."""

from __future__ import annotations

from functools import cache

from scanloom.basis.fact import Known
from scanloom.handbook.limits import LimitRow, limit_row, named_row
from scanloom.handbook.load import table
from scanloom.handbook.sources import row_fact


@cache
def front_end_row(name: str) -> Known[LimitRow]:
    """One assumption, together with the fact that it is.

    Parameters
    ----------
    name : str
        Name such as ``coupling`` or ``recovery-time``.

    Returns
    -------
    Known
        The row and the fact with its source.

    Raises
    ------
    ValueError
        If there is no such row.
    """
    row = limit_row(name, named_row("front_end", name))
    text = f"{row.typical:g} {row.unit}"
    return Known(row, (row_fact(f"handbook.front_end.{name}", text, row.source, row.place),))


def front_end_value(name: str) -> float:
    """Typical value of one assumption.

    Parameters
    ----------
    name : str
        Name as `front_end_row` takes it.

    Returns
    -------
    float
        The value. [unit]

    Raises
    ------
    ValueError
        If there is no such row, or it has no typical value.
    """
    typical = front_end_row(name).value.typical
    if typical is None:
        raise ValueError(f"front_end {name!r}: no typical value in the table; each row has one; give it one")
    return typical


def front_end_names() -> tuple[str, ...]:
    """Names that `front_end_row` takes.

    Returns
    -------
    tuple of str
        In the order of the table.
    """
    return tuple(table("front_end"))
