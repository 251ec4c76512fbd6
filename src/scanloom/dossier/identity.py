"""What an identification block fills in for its display, and the fact that it does.

Of several statements the first counts: the maker's own, that of the display's own block, what `same_as` copies (the other
display's statements and block, fallen to said), the class. Timings that a block lists stand beside those the maker lists.
What a block of a digital input lists holds for that input, so nothing is taken from it. What a block with a wrong
checksum states is a guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from scanloom.basis.fact import Known, Origin
from scanloom.basis.span import Span
from scanloom.dossier.edid import DetailedTiming, EdidBlock, StandardTiming
from scanloom.dossier.model import Display
from scanloom.handbook.timings import TimingRow, all_timings, find_timing

Identities = Mapping[str, Known[EdidBlock]]
"""Identification blocks by display, each with the fact that it is the display's."""

NO_BLOCKS: Mapping[str, EdidBlock] = MappingProxyType({})
NO_IDENTITIES: Identities = MappingProxyType({})


def with_block(display: Display, block: EdidBlock | None) -> Display:
    """A display with what its own block states where the maker states nothing.

    Parameters
    ----------
    display : Display
        As the maker wrote it.
    block : EdidBlock or None
        The block in the file it names.

    Returns
    -------
    Display
        Rates only where absent; listed timings behind the maker's own.
    """
    if display.edid is None or block is None:
        return display
    stated = display.edid.facts[0]
    origin: Origin = "guess" if stated.is_guess or not block.checksum_ok else "sheet"
    # the fingerprint is part of the statement, so that an acceptance goes stale with the file
    facts = (replace(stated, text=f"{stated.text}, {block.fingerprint}", origin=origin), *display.edid.facts[1:])
    update: dict[str, Any] = {"edid": Known(display.edid.value, facts)}
    if not block.digital:
        ranges = block.ranges
        if display.line_rate is None and ranges is not None and ranges.h_usable:
            update["line_rate"] = Known(Span.of(float(ranges.h_min_hz), float(ranges.h_max_hz)), facts)
        if display.frame_rate is None and ranges is not None and ranges.v_usable:
            update["frame_rate"] = Known(Span.of(float(ranges.v_min_hz), float(ranges.v_max_hz)), facts)
        listed = tuple(Known(name, facts) for name in promised_names(block))
        if listed:
            update["promised"] = (*(display.promised or ()), *listed)
    return display.model_copy(update=update)


def identities(displays: Iterable[Display], blocks: Mapping[str, EdidBlock]) -> Identities:
    """Blocks of displays that have one, copied ones too.

    Parameters
    ----------
    displays : iterable of Display
        Displays with what `same_as` fills in.
    blocks : Mapping
        Blocks by the display that names the file.

    Returns
    -------
    Mapping
        By display.
    """
    by_key = {f"displays.{name}.edid": block for name, block in blocks.items()}
    found = {
        display.name: Known(by_key[display.edid.facts[0].key], display.edid.facts)
        for display in displays
        if display.edid is not None and display.edid.facts[0].key in by_key
    }
    return MappingProxyType(found)


def from_block(known: Known[Any]) -> bool:
    """Whether a value of a display was filled in from a block.

    Parameters
    ----------
    known : Known
        The value.

    Returns
    -------
    bool
        True for the display's own block and for a copied one.
    """
    return known.facts[0].key.endswith(".edid")


def promised_names(block: EdidBlock) -> tuple[str, ...]:
    """Published timings that a block promises.

    Parameters
    ----------
    block : EdidBlock
        The block.

    Returns
    -------
    tuple of str
        Names, detailed timings first, each once. A listed timing that no table of the handbook holds is left out: no rig can
        name it as its parent, and a detailed one promises its own figures anyway.
    """
    rows = [
        *(detailed_row(timing) for timing in block.detailed),
        *(_named_row(name) for name in block.established),
        *(_standard_row(timing) for timing in block.standard),
    ]
    return tuple(dict.fromkeys(_unmistakable(row) for row in rows if row is not None))


def detailed_row(timing: DetailedTiming) -> TimingRow | None:
    """Published timing that a detailed one is.

    Parameters
    ----------
    timing : DetailedTiming
        The timing as the block states it.

    Returns
    -------
    TimingRow or None
        None when no table of the handbook holds the same raster.
    """
    for row in all_timings():
        line = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px)
        frame = (row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines)
        if not row.interlaced and timing.is_raster(
            line, frame, f"{row.h_polarity}{row.v_polarity}", row.pixel_clock_hz
        ):
            return row
    return None


def _standard_row(timing: StandardTiming) -> TimingRow | None:
    """Published timing that a standard one means: by its code where the list prints it, else by size and nominal rate."""
    for row in all_timings():
        if row.edid_standard == timing.code and (row.active_px, row.active_lines) == (
            timing.width_px,
            timing.height_lines,
        ):
            return row
    row_found = _named_row(timing.name)
    return row_found if row_found is not None and row_found.nominal_hz == timing.rate_hz else None


def _named_row(name: str) -> TimingRow | None:
    """Published timing of a name, or none."""
    try:
        return find_timing(name)
    except ValueError:
        return None


def _unmistakable(row: TimingRow) -> str:
    """The shortest name by which just this row is found."""
    return next((name for name in row.names if _named_row(name) is row), row.name)
