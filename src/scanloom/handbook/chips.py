"""Look-up of chip records, and the checks that a maker's own record passes too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from scanloom.basis.source import Source
from scanloom.handbook.chip import Chip, ChipTable, Row
from scanloom.handbook.load import TABLES, nearest_names, table
from scanloom.handbook.sources import source


@cache
def chip_names() -> tuple[str, ...]:
    """Chips of the handbook.

    Returns
    -------
    tuple of str
        In alphabetical order.
    """
    return tuple(sorted(path.stem for path in (TABLES / "chips").glob("*.toml")))


@cache
def chip(name: str) -> Chip:
    """One chip of the handbook.

    Parameters
    ----------
    name : str
        Name such as ``rp2040``.

    Returns
    -------
    Chip
        Its record.

    Raises
    ------
    ValueError
        If the handbook has no such chip.
    """
    if name not in chip_names():
        near = nearest_names(name, chip_names())
        meant = f"did you mean {' or '.join(near)}?" if near else "name one of them, or a path such as ./mine.toml"
        raise ValueError(f"chip {name!r}: not in the handbook; {', '.join(chip_names())} are allowed; {meant}")
    return make_chip(ChipTable.model_validate(table(f"chips/{name}")))


def make_chip(record: ChipTable) -> Chip:
    """Chip of a record whose figures have passed their own checks.

    Parameters
    ----------
    record : ChipTable
        The record.

    Returns
    -------
    Chip
        With its sources looked up.

    Raises
    ------
    ValueError
        If a row names a source that nobody lists, or rows do not fit one another.
    """
    faults = [f"{where}: {text}" for where, text in record_faults(record)]
    if faults:
        raise ValueError("; ".join(faults))
    return Chip(record, {key: _source(record, key) for key in {row_source for _, row_source in _row_sources(record)}})


def record_faults(record: ChipTable) -> list[tuple[str, str]]:
    """What rows of a record say against one another or against the list of sources.

    Parameters
    ----------
    record : ChipTable
        The record.

    Returns
    -------
    list of tuple
        Place in the record, and the fault in words.
    """
    faults: list[tuple[str, str]] = []
    for where, key in _row_sources(record):
        try:
            _source(record, key)
        except ValueError as error:
            faults.append((f"{where}.source", f"{error}; or list it under [sources] of this file"))
    for number, stream in enumerate(record.stream):
        where = f"stream.{number}"
        if sorted(stream.order) != list(range(stream.words_per_read)):
            faults.append(
                (
                    f"{where}.order",
                    f"{list(stream.order)} is no order of {stream.words_per_read} words; each slot once is allowed; mend it",
                )
            )
        if stream.slot_bits < stream.stored_bits:
            faults.append(
                (
                    f"{where}.slot_bits",
                    f"{stream.slot_bits} bits do not hold {stream.stored_bits}; as many or more are allowed; mend it",
                )
            )
        if stream.words_per_read * stream.slot_bits > 8 * stream.read_bytes:
            faults.append(
                (
                    f"{where}.words_per_read",
                    f"{stream.words_per_read} words of {stream.slot_bits} bits do not fit {stream.read_bytes} bytes; mend one of the three",
                )
            )
        if stream.planned > stream.hard:
            faults.append((f"{where}.planned", "the planning rate lies above the hard rate; it may not; swap them"))
    names = {stream.name for stream in record.stream}
    for kind in ("clock", "routing"):
        for number, row in enumerate(getattr(record, kind)):
            faults.extend(
                (f"{kind}.{number}.streams", f"{name!r} is no stream here; {', '.join(names)} are; correct the name")
                for name in row.streams
                if name not in names
            )
    for number, row in enumerate(record.routing):
        if (row.rule == "fixed") != bool(row.choices):
            faults.append(
                (f"routing.{number}.choices", "choices go with the rule fixed, and with no other; add or delete them")
            )
    return faults


def _source(record: ChipTable, key: str) -> Source:
    """A source of the record's own list or of the handbook's."""
    own = record.sources.get(key)
    return source(key) if own is None else Source(key, own.title, own.edition, own.standing, own.read)


def _row_sources(record: ChipTable) -> Iterator[tuple[str, str]]:
    """Place and source key of every row."""
    for kind in ChipTable.model_fields:
        value = getattr(record, kind)
        if isinstance(value, Row):
            yield kind, value.source
        elif isinstance(value, tuple):
            for number, row in enumerate(value):
                yield f"{kind}.{number}", row.source


def display_classes() -> Mapping[str, Any]:
    """The handbook's classes of displays.

    Returns
    -------
    Mapping
        Rows by name of the class.
    """
    return table("display_classes")
