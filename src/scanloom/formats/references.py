"""Whether the names in a dossier lead somewhere: every fault at its place."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from scanloom.basis.fact import Known
from scanloom.dossier.model import CHANNELS, Dossier
from scanloom.dossier.plan import alike_fault
from scanloom.formats.checked_toml import CheckedText
from scanloom.formats.input_error import InputFault
from scanloom.formats.toml_places import KeyPath
from scanloom.handbook.cables import cable_kinds
from scanloom.handbook.chip import Chip
from scanloom.handbook.chips import display_classes
from scanloom.handbook.formulas import FORMULAS
from scanloom.stages.timing import timing_named

Found = Iterator[tuple[KeyPath, str]]
_NAMED_BY_KEY = (("depth",), ("groups",), ("places",))
_CODE = re.compile(r"[a-z]+\.[a-z0-9-]+")


def reference_faults(dossier: Dossier, chip: Chip | None, checked: CheckedText, folder: Path) -> list[InputFault]:
    """Every name that leads nowhere, and every pin asked for twice.

    Parameters
    ----------
    dossier : Dossier
        The dossier.
    chip : Chip or None
        Its chip, to suggest free pins.
    checked : CheckedText
        Its text.
    folder : Path
        Folder that its paths start from.

    Returns
    -------
    list of InputFault
        All of them.
    """
    found: list[tuple[KeyPath, str]] = []
    for check in (_twice_named, _displays, _connectors, _rigs, _rest):
        found.extend(check(dossier))
    found.extend(_pins(dossier, chip))
    found.extend(_files(dossier, folder))
    return [checked.fault(path, text, at_key=path[-2:-1] in _NAMED_BY_KEY) for path, text in found]


def _twice_named(dossier: Dossier) -> Found:
    """Tables of one list that share a name."""
    board = dossier.board
    lists: list[tuple[KeyPath, str, Sequence[str]]] = [
        (("displays",), "displays", [d.name for d in dossier.displays]),
        (("rigs",), "rigs", [r.name for r in dossier.rigs]),
        (("cues",), "cues", [c.name for c in dossier.cues]),
        (("board", "connectors"), "connectors", [c.name for c in board.connectors] if board else []),
    ]
    for path, what, names in lists:
        for number, name in enumerate(names):
            if name in names[:number]:
                first = names.index(name) + 1
                yield (
                    (*path, number, "name"),
                    f"{name!r} names two {what}, first number {first}; each name may stand once; rename one",
                )


def _displays(dossier: Dossier) -> Found:
    """Classes, models, timings and cables that displays name."""
    names = [d.name for d in dossier.displays]
    fault = alike_fault(dossier.displays)
    if fault is not None:
        yield ("displays", names.index(fault[0]), "same_as"), fault[1]
    for number, display in enumerate(dossier.displays):
        here: KeyPath = ("displays", number)
        if display.like is not None:
            yield from _known(display.like, tuple(display_classes()), (*here, "like"), "is no class of display")
        for key in ("proved", "promised"):
            for item, known in enumerate(getattr(display, key) or ()):
                try:
                    timing_named(known.value)
                except ValueError as error:
                    yield (*here, key, item), str(error)
        if display.cable is not None and display.cable.value.kind not in cable_kinds():
            kinds = cable_kinds()
            yield (
                (*here, "cable"),
                f"{display.cable.value.kind!r} is no kind of cable; {', '.join(kinds)} are allowed; "
                f"{_meant(display.cable.value.kind, kinds)}",
            )


def _connectors(dossier: Dossier) -> Found:
    """Displays that connectors plug."""
    names = tuple(d.name for d in dossier.displays)
    seen: dict[str, str] = {}
    for number, connector in enumerate(dossier.board.connectors if dossier.board else ()):
        if connector.plugs is None:
            continue
        path: KeyPath = ("board", "connectors", number, "plugs")
        yield from _known(connector.plugs, names, path, "is no display of this dossier")
        name = connector.plugs.value
        if name in seen:
            yield (
                path,
                f"{name!r} is plugged in twice, first by board.connectors.{seen[name]}; one connector a display is allowed; correct one",
            )
        seen.setdefault(name, connector.name)


def _rigs(dossier: Dossier) -> Found:
    """Groups and displays that depths name, and formulas."""
    groups = {d.group.value for d in dossier.displays if d.group is not None}
    names = tuple(sorted(groups | {d.name for d in dossier.displays}))
    for number, rig in enumerate(dossier.rigs):
        if rig.raster is not None and rig.raster.formula is not None:
            yield from _known(rig.raster.formula, FORMULAS, ("rigs", number, "raster", "formula"), "is no formula")
        for owner in rig.depth:
            if owner not in names:
                yield (
                    ("rigs", number, "depth", owner),
                    f"{owner!r} is no group or display; {', '.join(names)} are allowed; {_meant(owner, names)}",
                )


def _rest(dossier: Dossier) -> Found:
    """Names in places, cues, group stages and acceptances."""
    displays = tuple(d.name for d in dossier.displays)
    groups = tuple({d.group.value for d in dossier.displays if d.group is not None})
    for name in dossier.room.places if dossier.room else ():
        if name not in displays:
            yield (
                ("room", "places", name),
                f"{name!r} is no display; {', '.join(displays)} are allowed; {_meant(name, displays)}",
            )
    for name in dossier.levels.groups if dossier.levels else ():
        if name not in groups:
            yield (
                ("levels", "groups", name),
                f"{name!r} is no group; {', '.join(groups)} are allowed; {_meant(name, groups)}",
            )
    for number, cue in enumerate(dossier.cues):
        for item, known in enumerate(cue.on):
            yield from _known(known, (*groups, *displays), ("cues", number, "on", item), "is no group or display")
    rigs = tuple(r.name for r in dossier.rigs)
    for number, accepted in enumerate(dossier.accepted):
        if not _CODE.fullmatch(accepted.code):
            yield (
                ("accepted", number, "code"),
                f"{accepted.code!r} is no code; stage.what is, such as 'screens.not-promised'; copy it from the survey",
            )
        if accepted.rig and accepted.rig not in rigs:
            yield (
                ("accepted", number, "rig"),
                f"{accepted.rig!r} is no rig; {', '.join(rigs)} are allowed; {_meant(accepted.rig, rigs)}",
            )
        if not accepted.because.strip():
            yield ("accepted", number, "because"), "the reason is empty; an acceptance needs one; write why"


def _pins(dossier: Dossier, chip: Chip | None) -> Found:
    """Pins asked for twice, with both claimants and some that are free."""
    claims: list[tuple[int, str, KeyPath]] = []
    board = dossier.board
    if board is None:
        return
    for name in ("h", "v"):
        known = getattr(board.sync, name) if board.sync else None
        if known is not None:
            claims.append((known.value, f"board.sync.{name}", ("board", "sync", name)))
    for number, connector in enumerate(board.connectors):
        asked: set[tuple[int, ...]] = set()
        for channel in CHANNELS:
            pins = getattr(connector, channel)
            path: KeyPath = ("board", "connectors", number, channel)
            if pins is not None and pins.value in asked:
                continue  # colours of one connector may hang on the very same pins; whether those carry it is for levels
            asked.update({pins.value} if pins is not None else ())
            claims.extend(
                (pin, f"board.connectors.{connector.name}.{channel}", path) for pin in (pins.value if pins else ())
            )
    first: dict[int, str] = {}
    taken = {pin for pin, _, _ in claims}
    for pin, who, path in claims:
        if pin in first:
            yield (
                path,
                f"pin {pin} is asked for twice, first by {first[pin]}; one claimant a pin is allowed; {_free(chip, taken)}",
            )
        first.setdefault(pin, who)


def _free(chip: Chip | None, taken: set[int]) -> str:
    """Some pins that nobody asks for."""
    if chip is None or chip.table.pins is None:
        return "give one of them a free pin"
    free = [p for p in chip.table.pins.pins if p not in taken and all(r.allow == "any" for r in chip.pin_rows(p))]
    return f"give one of them a free pin ({', '.join(map(str, free[:4]))})" if free else "no other pin is free"


def _files(dossier: Dossier, folder: Path) -> Found:
    """Files that the dossier names and that are not there."""
    for number, display in enumerate(dossier.displays):
        if display.edid is not None and not (folder / display.edid.value).is_file():
            yield (
                ("displays", number, "edid"),
                f"{display.edid.value!r} is no file beside the dossier; a path to the display's EDID block is allowed; "
                "correct it or delete the line",
            )


def _known(known: Known[str], names: Sequence[str], path: KeyPath, why: str) -> Found:
    """A name that should be one of several."""
    if known.value not in names:
        listed = ", ".join(f"'{n}'" for n in names) or "none"
        yield path, f"{known.value!r} {why}; {listed} are allowed; {_meant(known.value, names)}"


def _meant(given: str, names: Iterable[str]) -> str:
    """The nearest name, or what to do without one."""
    near = difflib.get_close_matches(given, list(names), 1, 0.6)
    return f"did you mean '{near[0]}'?" if near else "correct the name"
