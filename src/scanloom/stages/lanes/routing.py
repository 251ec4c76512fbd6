"""Can the chip bring each lane, and each hardware sync, to the pins it is wired to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from scanloom.basis.fact import Known
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Routing
from scanloom.stages.lanes.model import Lane, SyncPins


def judge_routing(
    read: Reading,
    lanes: Sequence[Lane],
    chip: Chip | None,
    stream: str,
    pins: Iterable[Known[Any]],
    hardware_sync: SyncPins | None,
) -> Verdict:
    """Whether the chip can bring each lane to its pins.

    Parameters
    ----------
    read : Reading
        Has read stream and depths; notes the routing rule.
    lanes : sequence of Lane
        Bits of the word with the pins they reach.
    chip : Chip or None
        Record of the chip, if it is known.
    stream : str
        Name of the stream.
    pins : iterable of Known
        Channels and sync pins; read only where the rule makes pin numbers matter.
    hardware_sync : SyncPins or None
        Pins of syncs that hardware makes; None when they are bits of the word, or not stated.

    Returns
    -------
    Verdict
        ``lanes.routing``; unknown when no rule is on record, and while a lane has no pin where that matters.
    """
    subject = f"rigs.{read.rig_name}.lanes"
    rule = chip.routing_of(stream) if chip else None
    if chip is None or rule is None:
        return read.verdict(
            "lanes.routing", subject, "stop", "How this chip routes lanes to pins is not known.", state="unknown",
            settle=Settle("Look up in the chip's manual which pins its stream can reach.", fact="chip.like"),
        )  # fmt: skip
    known = chip.known("routing", rule)
    read(known)
    free = rule.rule == "any" and rule.pins is None
    if not free or not rule.fan_out:
        for holder in pins:
            read(holder)
    fanned = [lane for lane in lanes if len(lane.pins) > 1]
    if fanned and not rule.fan_out:
        first = fanned[0]
        listed = ", ".join(map(str, first.pins))
        says = (
            f"Lane {first.bit} ({first.name}) feeds pins {listed}, but a lane of this chip reaches one pin only; "
            "give red, green and blue a bit each."
        )
        return _failed(read, subject, says, known, _split_white(read, first))
    if free:
        says = "Any lane reaches any of these pins" + (f"; {len(fanned)} lanes feed several pins." if fanned else ".")
        return read.verdict("lanes.routing", subject, "stop", says, state="holds", limit=known)
    homeless = [lane.name for lane in lanes if lane.carries != "spare" and not lane.pins]
    if homeless:
        says = f"Whether the lanes can leave on their pins is not known while {', '.join(homeless)} has no pin."
        return read.verdict("lanes.routing", subject, "stop", says, state="unknown", limit=known)
    used = [lane for lane in lanes if lane.pins]
    if rule.rule == "any":
        return _judge_among(read, subject, used, rule, known)
    if rule.rule == "fixed":
        return _judge_fixed(read, subject, used, rule, known, hardware_sync)
    return _judge_run(read, subject, used, rule, known)


def _judge_among(read: Reading, subject: str, used: Sequence[Lane], rule: Routing, known: Known[Routing]) -> Verdict:
    """Lanes that reach any of a few pins."""
    allowed = rule.pins or ()
    outside = [str(pin) for lane in used for pin in lane.pins if pin not in allowed]
    where = ", ".join(map(str, allowed))
    if outside:
        return _failed(read, subject, f"This stream reaches pins {where} only, not {', '.join(outside)}.", known)
    return read.verdict(
        "lanes.routing", subject, "stop", f"All lanes leave on pins {where}.", state="holds", limit=known
    )


def _judge_fixed(
    read: Reading,
    subject: str,
    used: Sequence[Lane],
    rule: Routing,
    known: Known[Routing],
    sync: SyncPins | None,
) -> Verdict:
    """Lanes and hardware syncs that each have a fixed choice of pins."""
    wrong = [
        f"lane {lane.bit} ({lane.name}) on pin {lane.pins[0]}, which may leave on {_listed(rule.choices[lane.bit])}"
        for lane in used
        if lane.bit < len(rule.choices) and lane.pins[0] not in rule.choices[lane.bit]
    ]
    for name, pin, choice in (("h", sync.h_pin, rule.h), ("v", sync.v_pin, rule.v)) if sync else ():
        if choice and pin not in choice:
            wrong.append(f"{name} on pin {pin}, which may leave on {_listed(choice)}")
    if wrong:
        return _failed(read, subject, f"Each lane of this chip has a fixed choice of pins: {'; '.join(wrong)}.", known)
    return read.verdict(
        "lanes.routing", subject, "stop", "Every lane leaves on one of its own pins.", state="holds", limit=known
    )


def _judge_run(read: Reading, subject: str, used: Sequence[Lane], rule: Routing, known: Known[Routing]) -> Verdict:
    """Lanes that leave on one consecutive run of pins, in the order of the word."""
    bases = {lane.pins[0] - lane.bit for lane in used}
    pins = sorted(lane.pins[0] for lane in used)
    if len(bases) > 1:
        run = len(pins) == pins[-1] - pins[0] + 1
        ordered = sorted(used, key=lambda lane: lane.pins[0])
        names = ", ".join(f'"{lane.name}"' for lane in ordered)
        says = (
            f"Lanes of this chip leave on consecutive pins in the order of the word; the pins are {_listed(pins)}"
            + (", but the word's order differs." if run else ", which is no unbroken run.")
        )
        return _failed(
            read, subject, says, known, (Patch(subject, f"[{names}]", "order the word by pin number"),) if run else ()
        )
    base = bases.pop() if bases else 0
    if rule.bases and base not in rule.bases:
        says = f"Lane 0 would leave on pin {base}; a run of this chip may start at {_listed(rule.bases)}."
        return _failed(read, subject, says, known)
    last = pins[-1] if pins else base
    if rule.windows and not any(low <= base and last <= high for low, high in rule.windows):
        windows = " or ".join(f"{low} to {high}" for low, high in rule.windows)
        return _failed(
            read, subject, f"Pins {base} to {last} do not lie within {windows}, which one run may not leave.", known
        )
    where = f"pins {pins[0]} to {pins[-1]}" if pins else "no pin"
    return read.verdict(
        "lanes.routing", subject, "stop", f"The lanes leave on one run, {where}.", state="holds", limit=known
    )


def _failed(read: Reading, subject: str, says: str, known: Known[Routing], remedy: tuple[Patch, ...] = ()) -> Verdict:
    """The verdict on lanes that cannot reach their pins."""
    return read.verdict("lanes.routing", subject, "stop", says, state="fails", limit=known, remedy=remedy)


def _listed(pins: Iterable[int]) -> str:
    """Pins in words."""
    return ", ".join(map(str, pins))


def _split_white(read: Reading, lane: Lane) -> tuple[Patch, ...]:
    """Give each colour its own lane instead of one white lane."""
    display = read.plan.displays.get(lane.display)
    group = display.group.value if display is not None and display.group is not None else lane.display
    owner = group if group in read.rig.depth else lane.display
    bits = read.rig.depth[owner]["white"].value if "white" in read.rig.depth.get(owner, {}) else 1
    value = f"{{ red = {bits}, green = {bits}, blue = {bits} }}"
    return (Patch(f"rigs.{read.rig_name}.depth.{owner}", value, "give red, green and blue lanes of their own"),)
