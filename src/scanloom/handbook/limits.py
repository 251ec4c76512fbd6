"""Levels and limits of the signal, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.load import nearest_names, table
from scanloom.handbook.sources import row_fact


@record
class LimitRow:
    """A level or limit; a bound that nobody sets is None.

    Parameters
    ----------
    name : str
        Name of the row.
    low : float or None
        Smallest value allowed. [unit]
    typical : float or None
        Value aimed at, or expected most often. [unit]
    high : float or None
        Largest value allowed. [unit]
    unit : str
        Unit of the three.
    source : str
        Key of the source.
    place : str
        Place in the source.
    """

    name: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    source: str
    place: str

    def span(self) -> Span:
        """All three bounds as a span.

        Returns
        -------
        Span
            Low, typical, high. [unit]

        Raises
        ------
        ValueError
            If one of them is left out.
        """
        if self.low is None or self.typical is None or self.high is None:
            raise ValueError(f"row {self.name}: a bound is left out; all three are needed; take a row that has them")
        return Span(self.low, self.typical, self.high)


@cache
def limit(name: str) -> LimitRow:
    """One level or limit by name.

    Parameters
    ----------
    name : str
        Name such as ``white``, ``sync-in-high`` or ``clock-error``.

    Returns
    -------
    LimitRow
        Its bounds, unit and source.

    Raises
    ------
    ValueError
        If there is no such row.
    """
    return limit_row(name, named_row("signal_levels", name))


def known_limit(name: str) -> Known[LimitRow]:
    """One level or limit, together with the fact that it is.

    Parameters
    ----------
    name : str
        Name as `limit` takes it.

    Returns
    -------
    Known
        The row and the fact with its source.

    Raises
    ------
    ValueError
        If there is no such row.
    """
    return known_row("signal_levels", name)


@cache
def known_row(table_name: str, name: str) -> Known[LimitRow]:
    """One row of a table of bounds, together with the fact that it is.

    Parameters
    ----------
    table_name : str
        Table to look in: ``signal_levels`` or ``supply_usual``.
    name : str
        Key of the row.

    Returns
    -------
    Known
        The row and the fact with its source.

    Raises
    ------
    ValueError
        If the table has no such row.
    """
    row = limit_row(name, named_row(table_name, name))
    bounds = " .. ".join(f"{x:g}" for x in (row.low, row.typical, row.high) if x is not None)
    return Known(row, (row_fact(f"handbook.{table_name}.{name}", f"{bounds} {row.unit}", row.source, row.place),))


def limit_names() -> tuple[str, ...]:
    """Names that `limit` takes.

    Returns
    -------
    tuple of str
        In the order of the table.
    """
    return tuple(table("signal_levels"))


def limit_row(name: str, raw: Mapping[str, Any]) -> LimitRow:
    """A limit from its TOML table.

    Parameters
    ----------
    name : str
        Name to give it.
    raw : Mapping
        Bounds, unit, source and place.

    Returns
    -------
    LimitRow
        The row.
    """
    low, typical, high = raw.get("low"), raw.get("typical"), raw.get("high")
    return LimitRow(name, low, typical, high, raw["unit"], raw["source"], raw["place"])


def named_row(table_name: str, name: str) -> Mapping[str, Any]:
    """One row of a table by its key.

    Parameters
    ----------
    table_name : str
        Table to look in.
    name : str
        Key of the row.

    Returns
    -------
    Mapping
        The row as TOML reads it.

    Raises
    ------
    ValueError
        If the table has no such row.
    """
    rows = table(table_name)
    if name in rows:
        row: Mapping[str, Any] = rows[name]
        return row
    like = nearest_names(name, rows)
    meant = f"did you mean {' or '.join(like)}?" if like else "name one of them"
    raise ValueError(f"{table_name} {name!r}: no such row; {', '.join(rows)} are allowed; {meant}")
