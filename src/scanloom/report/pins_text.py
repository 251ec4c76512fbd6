"""A proposed map of lanes to pins as text and JSON."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.basis.verdict import Patch
from scanloom.report import pins_documents as d
from scanloom.report.sheets import plain_table
from scanloom.stages.lanes.propose import proposal_patches
from scanloom.stages.lanes.propose_answer import NoPinMap, PinCost, PinProposal


def pins_doc(file: str, chip: str, answer: PinProposal | NoPinMap) -> d.PinsDoc:
    """A map, or that there is none.

    Parameters
    ----------
    file : str
        The dossier's file.
    chip : str
        Name of the chip.
    answer : PinProposal or NoPinMap
        What the search found.

    Returns
    -------
    PinsDoc
        For JSON.
    """
    if isinstance(answer, NoPinMap):
        return d.PinsDoc(
            file=file, chip=chip, found="no map" if answer.proved else "nothing yet", given=[], cost=None, bound=None,
            proved=answer.proved, crossings_now=None, moved=0, searched=0, orders=[], patches=[], try_line="",
            crowd=list(answer.lanes), crowd_pins=list(answer.pins), says=list(answer.says),
        )  # fmt: skip
    patches = proposal_patches(answer)
    return d.PinsDoc(
        file=file,
        chip=chip,
        found="map",
        given=[
            d.PinGivenDoc(
                lane=one.lane,
                connector=one.connector,
                channel=one.channel,
                pin=one.pin,
                ring_place=one.ring_place if answer.ring_known else None,
                now=one.now,
                kept=one.kept,
                last_resort=one.fit == "last",
                buffered=one.buffered,
                noise=one.noise,
                says=one.says,
            )
            for one in answer.given
        ],
        cost=_cost(answer.cost, answer.ring_known),
        bound=_cost(answer.bound, answer.ring_known),
        proved=answer.proved,
        crossings_now=answer.crossings_now,
        moved=answer.moved,
        searched=answer.searched,
        orders=[d.WordOrderDoc(rig=one.rig, lanes=list(one.lanes), changed=one.changed) for one in answer.orders],
        patches=[d.PinPatchDoc(key=one.key, value=one.value, says=one.says) for one in patches],
        try_line=_try_line(file, patches),
        crowd=[],
        crowd_pins=[],
        says=list(answer.says),
    )


def pins_sheet(file: str, title: str, chip: str, answer: PinProposal | NoPinMap) -> RenderableType:
    """A map, or that there is none.

    Parameters
    ----------
    file : str
        The dossier's file.
    title : str
        Its title.
    chip : str
        Name of the chip.
    answer : PinProposal or NoPinMap
        What the search found.

    Returns
    -------
    RenderableType
        For a console.
    """
    if isinstance(answer, NoPinMap):
        head = "no map of pins exists under these rules" if answer.proved else "no map of pins was found in time"
        return Group(Text(f"{title or file}: {head} on {chip}", style="bold"), *(Text(line) for line in answer.says))
    table = plain_table("connector", "channel", "pin", "on the walk", "why")
    above = ""
    for one in answer.given:
        place = str(one.ring_place) if answer.ring_known else "-"
        table.add_row("" if one.connector == above else one.connector or "sync", _channel(one.lane, one.channel),
                      str(one.pin), place, one.says)  # fmt: skip
        above = one.connector if one.connector else above
    head = "the best map of pins" if answer.proved else "a map of pins"
    parts: list[RenderableType] = [Text(f"{title or file}: {head} on {chip}", style="bold"), table]
    parts.append(Text(_cost_line(answer)))
    parts.extend(Text(line) for line in answer.says)
    parts.extend(
        Text(f"Word of {one.rig}, from bit 0: {', '.join(one.lanes)}.") for one in answer.orders if one.changed
    )
    return Group(*parts)


def next_line(file: str, answer: PinProposal | NoPinMap) -> str:
    """What to do next; one line however long, so that it can be copied.

    Parameters
    ----------
    file : str
        The dossier's file.
    answer : PinProposal or NoPinMap
        What the search found.

    Returns
    -------
    str
        The command that tries the map; empty where there is none.
    """
    if isinstance(answer, NoPinMap):
        return ""
    line = _try_line(file, proposal_patches(answer))
    return f"Next: {line}" if line else "The dossier has this map already; nothing to change."


def _cost_line(answer: PinProposal) -> str:
    """What the map costs beside what no map undercuts."""
    cost, bound = answer.cost, answer.bound
    rows = [
        ("last resorts", cost.last_resort, bound.last_resort),
        ("added buffers", cost.added_buffers, bound.added_buffers),
        ("noisy pins", cost.noisy, bound.noisy),
    ]
    if answer.ring_known:
        now = "unknown now" if answer.crossings_now is None else f"{answer.crossings_now} now"
        rows.insert(2, (f"crossings ({now})", cost.crossings, bound.crossings))
    words = "; ".join(f"{name} {value}" + ("" if value == low else f", bound {low}") for name, value, low in rows)
    moved = f"; {answer.moved} moved" if answer.moved else ""
    return f"{words}{moved}: {'proved best' if answer.proved else 'not proved best'}"


def _channel(lane: str, channel: str) -> str:
    """Channel with its bit, where it has several."""
    bit = lane.rpartition(".")[2]
    return f"{channel}, bit {bit}" if bit.isdigit() else channel


def _try_line(file: str, patches: Sequence[Patch]) -> str:
    """Command that shows what the map mends and breaks; empty where nothing changes."""
    if not patches:
        return ""
    words = " ".join(f"--try {shlex.quote(f'{one.key}={one.value}')}" for one in patches)
    return f"scanloom check {shlex.quote(file)} {words}"


def _cost(cost: PinCost, ring_known: bool) -> d.PinCostDoc:
    """The parts of a cost."""
    return d.PinCostDoc(
        last_resort=cost.last_resort,
        added_buffers=cost.added_buffers,
        crossings=cost.crossings if ring_known else None,
        noisy=cost.noisy,
    )
