"""Verdicts on many outputs that switch at once: what of it lands on a dark picture, and what white loses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit, known_row
from scanloom.stages.levels.amplifier import amplified_level
from scanloom.stages.levels.ground import SupplyPath, disturbance
from scanloom.stages.levels.network import colour_stage
from scanloom.stages.levels.result import ChannelLevels, Switching
from scanloom.stages.levels.tolerance import white_span

USUAL_CAPACITORS = (Span.exact(100e-9),) * 4 + (Span.exact(10e-6),)
"""Capacitors beside a chip where none are stated: one a supply pin and a larger one. Common practice, no source. [F]"""

_USUAL = ("supply-pin", "supply-pins", "capacitor-esl", "capacitor-esr", "regulator-reply")


def judge_switching(
    reading: Reading, channels: Sequence[Known[ChannelLevels]], missing: bool, verdicts: list[Verdict]
) -> Switching | None:
    """All colours from black to white at once, but for one that stays dark.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    channels : sequence of Known
        Channels whose levels are known.
    missing : bool
        Whether some driven channel's levels are not known.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    Switching or None
        What it does; None when a channel is unknown, or none is driven.
    """
    subject = f"rigs.{reading.rig_name}.depth"
    read = reading.fork()
    for known in channels:
        read(known)
    if missing or not channels:
        verdicts.append(_not_known(read.fork(), "levels.dark-bounce", subject))
        verdicts.append(_not_known(read.fork(), "levels.supply-dip", subject))
        return None
    ground_read, supply_read = read.fork(), read.fork()
    path = supply_path(ground_read, supply_read)
    bounced = []
    for group in _on_one_ground(read, [known.value for known in channels]):
        for dark in {one.wiring: one for one in group}.values():
            bounced.append(_landed(path, group, dark))
    dark_v = Span(*(max(ends) for ends in zip(*((s.low, s.typical, s.high) for s in bounced), strict=True)))
    fall = disturbance(path, _sum([known.value.white_a for known in channels]))
    rail, white = channels[0].value.network.rail_v, max(k.value.white_v.typical for k in channels)
    lost = Span(
        (fall.dip_v.low + fall.sag_v.low) / rail.high,
        (fall.dip_v.typical + fall.sag_v.typical) / rail.typical,
        (fall.dip_v.high + fall.sag_v.high) / rail.low,
    )
    supply = reading.plan.dossier.supply
    verdicts.append(_dark(ground_read, subject, dark_v, white, supply is not None and supply.ground_path is not None))
    verdicts.append(_dip(supply_read, subject, lost, supply is not None and supply.decoupling is not None))
    return Switching(dark_v, fall.dip_v, fall.sag_v, lost)


def supply_path(ground_read: Reading, supply_read: Reading) -> SupplyPath:
    """Way of the outputs' current: as stated, or what boards usually have.

    Parameters
    ----------
    ground_read : Reading
        Notes what the way to ground rests on; the handbook's figures count as guesses.
    supply_read : Reading
        Notes what the way from the supply rests on.

    Returns
    -------
    SupplyPath
        The way.
    """
    supply = supply_read.plan.dossier.supply
    if supply is not None and supply.decoupling is not None:
        capacitors = supply_read(supply.decoupling)
    else:
        capacitors = supply_read.assume(
            "supply.decoupling", USUAL_CAPACITORS, "100, 100, 100, 100, 10000 nF", "one a supply pin and a larger one"
        )
    if supply is not None and supply.ground_path is not None:
        ground_h = ground_read(supply.ground_path)
    else:
        ground_h = _usual(ground_read, "ground-path")
    pin_h, pins, esl_h, esr_ohm, reply_s = [_usual(supply_read, name) for name in _USUAL]
    _usual(supply_read, "pin-edge")
    return SupplyPath(
        ground_h, _usual(ground_read, "ground-resistance"), pin_h, pins, esl_h, len(capacitors), esr_ohm, _sum(capacitors),
        reply_s, _usual(supply_read, "regulator-output"), _usual(ground_read, "pin-edge"),
    )  # fmt: skip


def _usual(read: Reading, name: str) -> Span:
    """A figure of boards of this kind."""
    return read(known_row("supply_usual", name)).span()


def _on_one_ground(read: Reading, channels: Sequence[ChannelLevels]) -> list[list[ChannelLevels]]:
    """Channels whose outputs share a ground pin: the chip's own, and those of each stage with buffers."""
    found: dict[str, list[ChannelLevels]] = {}
    for one in channels:
        key = "" if one.wiring.buffer is None else colour_stage(read.fork(), read.plan.displays[one.display])[1]
        found.setdefault(key, []).append(one)
    return list(found.values())


def _landed(path: SupplyPath, group: Sequence[ChannelLevels], dark: ChannelLevels) -> Span:
    """What lands on a dark channel when all others that share its ground go to white."""
    others = list(group)
    others.remove(dark)
    driven = [one.white_a if one.wiring.amplifier is None else one.chip_a for one in others]
    step = _sum(driven) if driven else Span.exact(0.0)
    if dark.wiring.buffer is not None:  # a package holds so many of them, and its ground carries no more
        room = min(dark.wiring.buffer.outputs - 1, len(others))
        step = _share(step, room / max(len(others), 1))
    bounce = disturbance(path, step).bounce_v
    net = dark.network  # where one pin drives a channel its resistance low is not read, and the one high stands for it
    low = white_span(replace(net, pin_high_ohm=net.pin_low_ohm))
    seen = low if dark.wiring.amplifier is None else amplified_level(low, dark.wiring.amplifier)
    return Span(
        bounce.low * seen.low / net.rail_v.low,
        bounce.typical * seen.typical / net.rail_v.typical,
        bounce.high * seen.high / net.rail_v.high,
    )


def _dark(read: Reading, subject: str, dark_v: Span, white_v: float, stated: bool) -> Verdict:
    """What lands on a dark channel, as a share of white."""
    limit = known_limit("noise")
    return read.verdict(
        "levels.dark-bounce",
        subject,
        "caution" if stated else "note",
        {
            "holds": "A dark channel stays dark while all others go to white.",
            "fails": "A dark channel lights up at the edges of all others: use the slower drive setting, more grounds, or buffers.",
            "unknown": "A dark channel may light up at the edges of all others.",
        },
        found=_share(dark_v, 100.0 / white_v),
        unit="%",
        high=limit.value.high,
        limit=limit,
        settle=Settle(
            "Show white on all displays but one, alternate pixels dark, and look at the dark one's input with an oscilloscope.",
            f"spikes below {white_v * 0.025 * 1e3:.0f} mV", "larger ones", 20, "supply.ground_path",
        ),
    )  # fmt: skip


def _dip(read: Reading, subject: str, lost: Span, stated: bool) -> Verdict:
    """What white loses while the rail is down."""
    limit = known_limit("noise")
    return read.verdict(
        "levels.supply-dip",
        subject,
        "caution" if stated else "note",
        {
            "holds": "White keeps its level while all channels switch together.",
            "fails": "White falls while all channels switch together: bright lines show as darker bands; add capacitors.",
            "unknown": "White may fall while all channels switch together.",
        },
        found=_share(lost, 100.0),
        unit="%",
        high=limit.value.high,
        limit=limit,
        settle=Settle(
            "Show black and white in turns on all displays and look at the rail beside the chip with an oscilloscope.",
            "a dip of less than 80 mV", "a larger one", 20, "supply.decoupling",
        ),
    )  # fmt: skip


def _not_known(read: Reading, code: str, subject: str) -> Verdict:
    """A check that lacks a channel."""
    return read.verdict(
        code, subject, "note", "What switching all colours at once does is not known: the levels of a channel are not.",
        state="unknown",
    )  # fmt: skip


def _sum(spans: Sequence[Span]) -> Span:
    """Sum of independent spans."""
    return Span(sum(s.low for s in spans), sum(s.typical for s in spans), sum(s.high for s in spans))


def _share(span: Span, share: float) -> Span:
    """Share of a span."""
    return Span(share * span.low, share * span.typical, share * span.high)
