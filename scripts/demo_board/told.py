"""Where a finding about a mutation may lie: the oracle of places, which knows what was changed and nothing of the review."""

from __future__ import annotations

from math import hypot

from demo_board import sets
from demo_board.mutations import Mutation
from demo_board.nouns import NO_NET, Board
from demo_board.planting import Where
from scanloom.basis.verdict import Verdict

WHOLE_FILE = {"negate-axis", "move-drills", "swap-files"}
SUPPLIES = {"GND", "3V3", "5V", NO_NET, ""}


def told_there(good: Board, mutation: Mutation, verdict: Verdict) -> bool:
    """Whether a finding points at what a mutation changed.

    A fault of a whole file is told of that file, since every spot in it is wrong. All others are told at a spot, or at
    a pin: a broken net at any pin that it cuts off, a lane at either end of its series part, a value at its part.
    """
    place = verdict.place
    if place is None:
        return False
    if mutation.kind in WHOLE_FILE:
        files = {sets.name(good, where.role) for where in mutation.where}
        return place.file in files or any(file in verdict.says for file in files)
    return any(_at_spot(where, place.x_mm, place.y_mm) for where in mutation.where) or place.pin in allowed_pins(
        good, mutation
    )


def allowed_pins(good: Board, mutation: Mutation) -> set[str]:
    """Parts and pins at which a finding may be told: those changed, those on a changed net, and what lies one part on."""
    refs = {where.pin.split("-")[0] for where in mutation.where if where.pin}
    known = {net for part in good.parts for net in part.nets.values()}  # some have blanks in their names
    nets = {net for where in mutation.where for net in known if f" {net} " in f" {where.net} "}
    if mutation.kind in ("drop-part", "change-value"):
        nets |= {net for part in good.parts if part.ref in refs for net in part.nets.values()}
    if mutation.kind != "delete-track":  # a break is told on its own net alone
        nets -= SUPPLIES
        nets |= {
            net
            for part in good.parts
            if part.ref[0] == "R" and nets & set(part.nets.values())
            for net in part.nets.values()
        } - SUPPLIES
    for start in ("sync-h", "sync-v"):  # a sync goes on through the buffer
        if any(net.startswith(start) for net in nets) and mutation.kind == "swap-nets":
            nets |= {net for part in good.parts for net in part.nets.values() if net.startswith(start)}
    pins = {f"{part.ref}-{pin}" for part in good.parts for pin, net in part.nets.items() if net in nets}
    if mutation.kind in ("delete-track", "bridge-tracks"):
        return pins
    return pins | {pin.split("-")[0] for pin in pins} | _of_parts(good, refs)


def _of_parts(good: Board, refs: set[str]) -> set[str]:
    """Parts and all their pins."""
    return refs | {f"{part.ref}-{pin}" for part in good.parts if part.ref in refs for pin in part.nets}


def _at_spot(where: Where, x_mm: float | None, y_mm: float | None) -> bool:
    """Whether a spot lies as near to the change as its record asks."""
    if where.x_mm is None or where.y_mm is None or x_mm is None or y_mm is None:
        return False
    return hypot(x_mm - where.x_mm, y_mm - where.y_mm) <= where.within_mm
