"""A dossier made ready for the stages: what is alike filled in, classes behind the displays, the chip at hand."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import field
from types import MappingProxyType
from typing import Any

from scanloom.basis.fact import Fact, Known, copied, merged
from scanloom.basis.record import record
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.identity import NO_BLOCKS, NO_IDENTITIES, Identities, identities, with_block
from scanloom.dossier.leaf import plant
from scanloom.dossier.model import Connector, Display, Dossier, Rig
from scanloom.handbook.chip import Chip

_NEVER_COPIED = frozenset({"name", "same_as", "proved"})
_CLASS_FIELDS = (
    "line_rate",
    "frame_rate",
    "panel",
    "colour_load",
    "sync_load",
    "sync_pull",
)

DisplayClasses = Mapping[str, Mapping[str, Any]]
"""Rows of the handbook's table of display classes: field texts, source, place."""


@record
class Plan:
    """Everything that stages read.

    Parameters
    ----------
    dossier : Dossier
        As the maker wrote it.
    chip : Chip or None
        Record of the chip that the dossier names.
    displays : Mapping
        Displays by name, with what their identification blocks, `same_as` and the class fill in.
    pending : tuple of Fact
        What the dossier states for parts of the job that this version does not judge.
    identities : Mapping
        Identification blocks by display, copied ones too.
    """

    dossier: Dossier
    chip: Chip | None = None
    displays: Mapping[str, Display] = field(default_factory=lambda: MappingProxyType({}))
    pending: tuple[Fact, ...] = ()
    identities: Identities = field(default_factory=lambda: NO_IDENTITIES)

    @property
    def rigs(self) -> tuple[Rig, ...]:
        """The rigs of the dossier."""
        return self.dossier.rigs

    @property
    def connectors(self) -> tuple[Connector, ...]:
        """The board's connectors, left to right."""
        return self.dossier.board.connectors if self.dossier.board else ()


def make_plan(
    dossier: Dossier,
    chip: Chip | None,
    classes: DisplayClasses,
    standings: Mapping[str, str],
    blocks: Mapping[str, EdidBlock] = NO_BLOCKS,
) -> Plan:
    """Fill in what displays leave out: from the display's own block, then from what it is the same as, then from its class.

    Parameters
    ----------
    dossier : Dossier
        A dossier whose names refer to things that exist.
    chip : Chip or None
        Record of its chip.
    classes : Mapping
        The handbook's display classes.
    standings : Mapping
        Standing of each source the classes name.
    blocks : Mapping
        Identification blocks by the display that names the file.

    Returns
    -------
    Plan
        Ready for the stages.
    """
    by_name = {display.name: with_block(display, blocks.get(display.name)) for display in dossier.displays}
    filled: dict[str, Display] = {}
    for name in by_name:
        filled[name] = _with_class(_with_alike(name, by_name, ()), classes, standings)
    found = identities(filled.values(), blocks)
    return Plan(dossier, chip, MappingProxyType(filled), _pending(dossier), found)


def alike_fault(displays: Sequence[Display]) -> tuple[str, str] | None:
    """First display whose `same_as` leads nowhere or in a circle.

    Parameters
    ----------
    displays : sequence of Display
        All displays.

    Returns
    -------
    tuple or None
        Name of the display and what is wrong.
    """
    by_name = {d.name: d for d in displays}
    for display in displays:
        seen = [display.name]
        step = display
        while step.same_as is not None:
            target = step.same_as.value
            if target not in by_name:
                others = [n for n in by_name if n != step.name]
                near = difflib.get_close_matches(target, others, 1, 0.6)
                meant = f"did you mean '{near[0]}'?" if near else "correct the name"
                return (
                    step.name,
                    f"{target!r} is no display here; {', '.join(others) or 'no other'} may be named; {meant}",
                )
            if target in seen:
                return (
                    display.name,
                    f"'{' -> '.join([*seen, target])}' runs in a circle; one display must state its own facts; delete one same_as",
                )
            seen.append(target)
            step = by_name[target]
    return None


def _with_alike(name: str, by_name: Mapping[str, Display], seen: tuple[str, ...]) -> Display:
    """Display with the facts of the one it is the same as."""
    display = by_name[name]
    if display.same_as is None or display.same_as.value not in by_name or name in seen:
        return display
    model = _with_alike(display.same_as.value, by_name, (*seen, name))
    via = display.same_as.facts[0]
    update: dict[str, Any] = {}
    for key in Display.model_fields:
        theirs = getattr(model, key)
        if key in _NEVER_COPIED or theirs is None or getattr(display, key) is not None:
            continue
        update[key] = tuple(copied(k, via) for k in theirs) if isinstance(theirs, tuple) else copied(theirs, via)
    return display.model_copy(update=update)


def _with_class(display: Display, classes: DisplayClasses, standings: Mapping[str, str]) -> Display:
    """Display with the values of its class where it states none; each counts as a guess."""
    if display.like is None or display.like.value not in classes:
        return display
    row = classes[display.like.value]
    absent = {key: row[key] for key in _CLASS_FIELDS if key in row and getattr(display, key) is None}
    if not absent:
        return display
    # the class's texts are read by the very fields that read the maker's
    read = Display.model_validate(plant({"name": display.name, **absent}))
    update: dict[str, Any] = {}
    for key in absent:
        theirs = getattr(read, key)
        made = [
            _class_known(k, f"handbook.displays.{_slug(display.like.value)}.{key}", row, standings, display)
            for k in _listed(theirs)
        ]
        update[key] = tuple(made) if isinstance(theirs, tuple) else made[0]
    return display.model_copy(update=update)


def _class_known(
    known: Known[Any], key: str, row: Mapping[str, Any], standings: Mapping[str, str], display: Display
) -> Known[Any]:
    """Value of a class, resting on the class row and on the statement that the display is of it."""
    assert display.like is not None
    source = str(row["source"])
    standing: Any = standings[source]
    fact = Fact(key, known.facts[0].text, standing, str(row["place"]), source, class_value=True)
    return Known(known.value, merged((fact, *display.like.facts)))


def _slug(name: str) -> str:
    """A class's name as one word of a key."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _listed(value: Any) -> tuple[Known[Any], ...]:
    """One or several values as several."""
    return value if isinstance(value, tuple) else (value,)


def _pending(dossier: Dossier) -> tuple[Fact, ...]:
    """What is read but not judged by this version, one fact a table."""
    stated: list[tuple[str, str]] = []
    if dossier.event:
        stated.append(("event", "the day and the ceiling of cost"))
    if dossier.batch:
        stated.append(("batch", "how many boards, when and at what price"))
    if dossier.room:
        stated.append(("room", "where displays and seats stand"))
    if dossier.cues:
        stated.append(("cues", "flashing and content"))
    if dossier.board and dossier.board.files:
        stated.append(("board.files", "the fabrication files"))
    return tuple(Fact(key, words, "said") for key, words in stated)
