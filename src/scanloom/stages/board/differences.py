"""What makes a prototype another circuit than the final board, worst first."""

from __future__ import annotations

from collections.abc import Iterator

from scanloom.basis.record import record
from scanloom.dossier.model import CHANNELS, Connector
from scanloom.dossier.plan import Plan


@record
class Difference:
    """One thing in which two boards differ.

    Parameters
    ----------
    rank : int
        How much it may hide, 1 most. [1]
    key : str
        Place in the dossier.
    here : str
        What the prototype has.
    there : str
        What the final board has.
    why : str
        What the prototype therefore does not prove.
    """

    rank: int
    key: str
    here: str
    there: str
    why: str


def differences(prototype: Plan, final: Plan) -> tuple[Difference, ...]:
    """Electrical differences of two dossiers.

    Parameters
    ----------
    prototype : Plan
        Dossier of the prototype.
    final : Plan
        Dossier of the final board.

    Returns
    -------
    tuple of Difference
        The worst first.
    """
    made = [*_colour(prototype, final), *_sync(prototype, final), *_lanes(prototype, final), *_loads(prototype, final)]
    made += [*_chip(prototype, final), *_parts(prototype, final)]
    return tuple(sorted(made, key=lambda one: (one.rank, one.key)))


def _text(known: object) -> str:
    """A stated value as written; a dash where nothing is stated."""
    facts = getattr(known, "facts", None)
    return "-" if not facts else str(facts[0].text)


def _unlike(a: object, b: object) -> bool:
    """Whether two stated values differ."""
    return getattr(a, "value", None) != getattr(b, "value", None)


def _colour(a: Plan, b: Plan) -> Iterator[Difference]:
    """Colour stages: the board's own, then those of groups."""
    one = a.dossier.levels.colour if a.dossier.levels else None
    other = b.dossier.levels.colour if b.dossier.levels else None
    for field in ("style", "part"):
        x, y = getattr(one, field, None), getattr(other, field, None)
        if _unlike(x, y):
            why = "the level of white, and whether it clips, is another one"
            yield Difference(1, f"levels.colour.{field}", _text(x), _text(y), why)


def _sync(a: Plan, b: Plan) -> Iterator[Difference]:
    """How syncs are driven."""
    one = a.dossier.levels.sync if a.dossier.levels else None
    other = b.dossier.levels.sync if b.dossier.levels else None
    for field in ("style", "part", "buffer", "outputs", "branch"):
        x, y = getattr(one, field, None), getattr(other, field, None)
        if _unlike(x, y):
            why = "sync levels, edges and what displays feed back are not proved by it"
            yield Difference(2, f"levels.sync.{field}", _text(x), _text(y), why)


def _lanes(a: Plan, b: Plan) -> Iterator[Difference]:
    """Pins of the connectors that both have."""
    theirs: dict[str, Connector] = {one.name: one for one in b.connectors}
    for one in a.connectors:
        other = theirs.get(one.name)
        for channel in CHANNELS if other is not None else ():
            x, y = getattr(one, channel), getattr(other, channel)
            if _unlike(x, y):
                why = "boot roles and noise of the final pins are not proved by it"
                yield Difference(3, f"board.connectors.{one.name}.{channel}", _text(x), _text(y), why)
    for axis in ("h", "v"):
        x = getattr(a.dossier.board.sync, axis, None) if a.dossier.board else None
        y = getattr(b.dossier.board.sync, axis, None) if b.dossier.board else None
        if _unlike(x, y):
            yield Difference(
                3, f"board.sync.{axis}", _text(x), _text(y), "boot role and noise of the final pin are not proved by it"
            )


def _loads(a: Plan, b: Plan) -> Iterator[Difference]:
    """Displays plugged in, and the current of all of them at white."""
    here, there = _plugged(a), _plugged(b)
    if len(here) != len(there):
        why = "each sync drives fewer inputs, and less is fed back at switch-on"
        yield Difference(2, "board.connectors", _displays(here), _displays(there), why)
    channels = [
        sum(getattr(c, channel) is not None for c in plan.connectors for channel in CHANNELS) for plan in (a, b)
    ]
    if channels[0] != channels[1]:
        white = [f"{n} colour channels, {n * 0.7 / 75 * 1e3:.0f} mA at white" for n in channels]
        yield Difference(
            2, "board.connectors.channels", white[0], white[1], "rail, regulator and chip current are not proved by it"
        )
    for name in sorted(set(here) & set(there)):
        for field in ("colour_load", "sync_load", "cable"):
            x, y = getattr(a.displays[name], field, None), getattr(b.displays[name], field, None)
            if _unlike(x, y):
                why = "smear, ghosts and levels at the far end differ"
                yield Difference(4, f"displays.{name}.{field}", _text(x), _text(y), why)


def _displays(names: list[str]) -> str:
    """How many displays, in words."""
    return f"{len(names)} display" + ("" if len(names) == 1 else "s")


def _plugged(plan: Plan) -> list[str]:
    """Displays on the connectors."""
    names = [c.plugs.value for c in plan.connectors if c.plugs is not None]
    return [name for name in names if name in plan.displays]


def _chip(a: Plan, b: Plan) -> Iterator[Difference]:
    """The chip and how its pins drive."""
    for field, rank in (("like", 1), ("drive", 2), ("rail", 3)):
        x, y = getattr(a.dossier.chip, field, None), getattr(b.dossier.chip, field, None)
        if _unlike(x, y):
            yield Difference(rank, f"chip.{field}", _text(x), _text(y), "levels and timing rest on it")


def _parts(a: Plan, b: Plan) -> Iterator[Difference]:
    """Parts that only one of the boards has."""
    mine = {part.is_ for part in a.dossier.board.parts.values()} if a.dossier.board else set()
    theirs = {part.is_ for part in b.dossier.board.parts.values()} if b.dossier.board else set()
    for what in sorted(mine ^ theirs):
        why = (
            f"nothing that the {what} does is proved by it"
            if what in theirs
            else f"the final board does without the {what}"
        )
        yield Difference(3, f"board.parts.{what}", what if what in mine else "-", what if what in theirs else "-", why)
