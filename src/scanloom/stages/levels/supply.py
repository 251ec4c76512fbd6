"""Verdicts on what everything draws together: the chip's pins, the inlet, the regulator."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Currents
from scanloom.handbook.limits import known_limit
from scanloom.stages.lanes import ChannelDrive, LaneMap
from scanloom.stages.levels.network import Missing, pin_rail
from scanloom.stages.levels.remedy import buffered_colour
from scanloom.stages.levels.result import ChannelLevels

USUAL_INLET_V = Span(4.75, 5.0, 5.25)
"""Voltage of a 5 V inlet when nothing is stated. From memory of USB 2.0, at the board. [V]"""


def judge_pins_total(
    reading: Reading,
    lanes: LaneMap,
    channels: Sequence[Known[ChannelLevels]],
    sync_a: Known[tuple[Span, Span]] | None,
    missing: bool,
    verdicts: list[Verdict],
) -> Span | None:
    """Current of all pins, and of each bank, all colours at white and both syncs high.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    lanes : LaneMap
        Channels and pins.
    channels : sequence of Known
        Channels whose levels are known.
    sync_a : Known or None
        What one sync draws from its pin and from the rail. [A]
    missing : bool
        Whether some driven channel's levels are not known.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    Span or None
        Current that counts against the total; None when unknown. [A]
    """
    chip, facts = reading.plan.chip, reading.plan.dossier.chip
    subject = f"rigs.{reading.rig_name}.depth"
    read = _all_channels(reading, lanes, channels)
    if chip is None or facts is None or not [r for r in chip.table.current if r.over == "all pins"]:
        verdicts.append(_no_total(read, subject))
        return None
    read.maybe(facts.like)
    total_row = next((r for r in chip.table.current if r.over == "all pins" and r.pins is None), None)
    colour = _sum([known.value.chip_a for known in channels])
    drives = {(k.value.display, k.value.channel): k.value for k in lanes.channels}
    for row in chip.table.current:
        if row.over == "all pins" and row.pins is not None:
            verdicts.append(
                _bank(read.fork(), row, chip.known("current", row), lanes, channels, drives, sync_a, missing)
            )
    if total_row is None:
        verdicts.append(_no_total(read, subject))
        return None
    if sync_a is None or lanes.incomplete or missing:
        why = lanes.incomplete[0] if lanes.incomplete else "the levels of a channel or of the syncs are not known"
        verdicts.append(
            read.verdict(
                "levels.chip-current", subject, "stop", f"The current of all pins is not known: {why}.", state="unknown"
            )
        )
        return None
    sync = _twice(read(sync_a)[0])
    own = Span.exact(0.0)
    if chip.table.own_pins is not None:
        own = read(chip.known("own_pins", chip.table.own_pins)).amount
    total = _sum([colour, sync, own])
    verdicts.append(
        read.verdict(
            "levels.chip-current",
            subject,
            "stop",
            {
                "holds": f"{len(channels)} channels at white, both syncs and the chip's own pins stay within the chip's total.",
                "fails": f"{len(channels)} channels at white overload the chip's pins together; buffers per display would take the load.",
                "unknown": f"{len(channels)} channels at white may overload the chip's pins together.",
            },
            found=total,
            unit="A",
            high=float(total_row.amount),
            limit=chip.known("current", total_row),
            settle=Settle(
                "Measure the current into the board with a black and with a white picture; the difference counts.",
                minutes=10,
            ),
            remedy=() if total.high <= float(total_row.amount) else _relief(read, channels),
        )
    )
    return total


def judge_supply(
    reading: Reading,
    lanes: LaneMap,
    channels: Sequence[Known[ChannelLevels]],
    sync_a: Known[tuple[Span, Span]] | None,
    missing: bool,
    verdicts: list[Verdict],
) -> tuple[Known[Span] | None, Span | None]:
    """Current from the inlet and heat in the regulator, all at white.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    lanes : LaneMap
        Channels and pins.
    channels : sequence of Known
        Channels whose levels are known.
    sync_a : Known or None
        What one sync draws from its pin and from the rail. [A]
    missing : bool
        Whether some driven channel's levels are not known.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    tuple
        Inlet current, resting on all that draws it, and regulator heat; None when unknown. [A, W]
    """
    read = _all_channels(reading, lanes, channels)
    supply = reading.plan.dossier.supply
    running = running_current(read)
    if running is None or sync_a is None or lanes.incomplete or missing:
        verdicts.append(
            _supply_unknown(read, "levels.inlet", "supply.inlet", "what the board draws is not known in all parts")
        )
        verdicts.append(
            _supply_unknown(
                read, "levels.regulator-heat", "supply.regulator_rise", "what the board draws is not known in all parts"
            )
        )
        return None, None
    total = _sum([*[known.value.white_a for known in channels], _twice(read(sync_a)[1]), running])
    inlet = read.fork()
    if supply is None or supply.inlet is None:
        verdicts.append(_supply_unknown(inlet, "levels.inlet", "supply.inlet", "what the inlet may give is not stated"))
    else:
        most = inlet(supply.inlet)
        verdicts.append(
            inlet.verdict(
                "levels.inlet",
                "supply.inlet",
                "caution",
                {
                    "holds": "All at white, the board draws no more than the inlet may give.",
                    "fails": "All at white, the board draws more than the inlet may give: the rail sags and the chip may start anew.",
                    "unknown": "All at white, the board may draw more than the inlet may give.",
                },
                found=total,
                unit="A",
                high=most.low,
                settle=Settle(
                    "Measure the current into the board with a white picture on all displays.",
                    f"below {most.low * 1e3:.0f} mA",
                    "above",
                    10,
                    "supply.chip_current",
                ),
            )
        )
    return read.known(total), _heat(read.fork(), total, verdicts)


def _heat(read: Reading, total: Span, verdicts: list[Verdict]) -> Span | None:
    """Heat of the regulator and the temperature it reaches."""
    supply = read.plan.dossier.supply
    try:
        rail = pin_rail(read)
    except Missing:
        verdicts.append(
            _supply_unknown(read, "levels.regulator-heat", "supply.regulator_rise", "the rail is not known")
        )
        return None
    if supply is not None and supply.inlet_voltage is not None:
        inlet_v = read(supply.inlet_voltage)
    else:
        inlet_v = read.assume("supply.inlet_voltage", USUAL_INLET_V, "4.75 .. 5.25 V", "a 5 V inlet")
    drop = Span(
        max(inlet_v.low - rail.high, 0.0), max(inlet_v.typical - rail.typical, 0.0), max(inlet_v.high - rail.low, 0.0)
    )
    heat = Span(drop.low * total.low, drop.typical * total.typical, drop.high * total.high)
    if supply is None or supply.regulator_rise is None or supply.air is None:
        verdicts.append(
            _supply_unknown(
                read,
                "levels.regulator-heat",
                "supply.regulator_rise",
                "the regulator's rise or the air around it is not stated",
            )
        )
        return heat
    rise, air = read(supply.regulator_rise), read(supply.air)
    hot = Span(
        air.low + rise.low * heat.low, air.typical + rise.typical * heat.typical, air.high + rise.high * heat.high
    )
    limit = known_limit("junction")
    verdicts.append(
        read.verdict(
            "levels.regulator-heat",
            "supply.regulator_rise",
            "caution",
            {
                "holds": "All at white, the regulator stays below its highest temperature.",
                "fails": "All at white, the regulator gets too hot: use a larger one, or feed buffers from their own.",
                "unknown": "All at white, the regulator may get too hot.",
            },
            found=hot,
            unit="degC",
            high=limit.value.high,
            limit=limit,
            settle=Settle(
                "Run white on all displays for ten minutes and measure the regulator's case.",
                "well below 100 degC",
                "near it or above",
                15,
                "supply.regulator_rise",
            ),
            remedy=(
                Patch(
                    "supply.regulator_rise",
                    '"60 K/W; because a larger case on a copper area"',
                    "fit a regulator in a larger case",
                ),
            ),
        )
    )
    return heat


def running_current(read: Reading) -> Span | None:
    """The chip's own current with the picture running.

    Parameters
    ----------
    read : Reading
        Notes what is read.

    Returns
    -------
    Span or None
        As stated, or by the chip's record; None when neither knows it. [A]
    """
    supply, chip, facts = read.plan.dossier.supply, read.plan.chip, read.plan.dossier.chip
    if supply is not None and supply.chip_current is not None:
        return read(supply.chip_current)
    if chip is None or chip.table.supply is None or facts is None:
        return None
    read.maybe(facts.like)
    return read(chip.known("supply", chip.table.supply)).running


def _bank(
    read: Reading,
    row: Currents,
    limit: Known[Currents],
    lanes: LaneMap,
    channels: Sequence[Known[ChannelLevels]],
    drives: dict[tuple[str, str], ChannelDrive],
    sync_a: Known[tuple[Span, Span]] | None,
    missing: bool,
) -> Verdict:
    """Current of one bank of pins: each channel's white current counts by its pins in the bank, highest leg first."""
    subject = f"rigs.{read.rig_name}.depth"
    bank = set(row.pins or ())
    if sync_a is None or lanes.sync_pins is None or lanes.incomplete or missing:
        return read.verdict(
            "levels.bank-current",
            f"{subject}.{row.name.lower().replace(' ', '-')}",
            "stop",
            f"The current of bank {row.name} is not known in all parts.",
            state="unknown",
        )
    sync_pins = (read(lanes.sync_pins).h_pin, lanes.sync_pins.value.v_pin)
    found = [_twice_share(read(sync_a)[0], sum(pin in bank for pin in sync_pins))]
    counted: list[Known[ChannelLevels]] = []
    for known in channels:
        pins = drives[(known.value.display, known.value.channel)].pins
        inside = sum(pin in bank for pin in pins)
        if inside:
            # a channel split over banks counts whole in each: more than true, never less
            found.append(known.value.chip_a)
            counted.append(known)
    together = _sum(found)
    return read.verdict(
        "levels.bank-current",
        f"{subject}.{row.name.lower().replace(' ', '-')}",
        "stop",
        {
            "holds": f"The pins of bank {row.name} stay within their total at white.",
            "fails": f"The pins of bank {row.name} are overloaded together at white.",
            "unknown": f"The pins of bank {row.name} may be overloaded together at white.",
        },
        found=together,
        unit="A",
        high=float(row.amount),
        limit=limit,
        remedy=() if together.high <= float(row.amount) else _relief(read, counted),
    )


def _relief(read: Reading, channels: Sequence[Known[ChannelLevels]]) -> tuple[Patch, ...]:
    """Buffers for the display that takes most from the pins, and so for all that are wired as it is."""
    if not channels:
        return ()
    by_display: dict[str, float] = {}
    for known in channels:
        by_display[known.value.display] = by_display.get(known.value.display, 0.0) + known.value.chip_a.high
    most = max(by_display, key=by_display.__getitem__)
    bits = max(known.value.network.bits for known in channels if known.value.display == most)
    return buffered_colour(read, read.plan.displays[most], bits)


def _all_channels(reading: Reading, lanes: LaneMap, channels: Sequence[Known[ChannelLevels]]) -> Reading:
    """A reading that rests on every channel of the word, those held low included."""
    read = reading.fork()
    for drive in lanes.channels:
        read(drive)
    read.maybe(lanes.sync_pins)
    for known in channels:
        read(known)
    return read


def _no_total(read: Reading, subject: str) -> Verdict:
    """Nothing is known of the chip's total."""
    return read.verdict(
        "levels.chip-current", subject, "stop", "How much all pins of this chip may carry together is not known.", state="unknown",
        settle=Settle("Look up the total of all outputs in the chip's datasheet.", fact="chip.like"),
    )  # fmt: skip


def _supply_unknown(read: Reading, code: str, subject: str, why: str) -> Verdict:
    """A supply check that lacks a fact."""
    return read.fork().verdict(
        code, subject, "caution", f"It cannot be said: {why}.", state="unknown",
        settle=Settle("Read the inlet's label and the regulator's sheet into [supply].", minutes=10, fact=subject),
    )  # fmt: skip


def _sum(spans: Sequence[Span]) -> Span:
    """Sum of independent spans."""
    return Span(sum(s.low for s in spans), sum(s.typical for s in spans), sum(s.high for s in spans))


def _twice(span: Span) -> Span:
    """Both syncs at once."""
    return _twice_share(span, 2)


def _twice_share(span: Span, count: int) -> Span:
    """So many syncs at once."""
    return Span(count * span.low, count * span.typical, count * span.high)
