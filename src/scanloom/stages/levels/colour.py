"""Verdicts on one colour channel: white, evenness, current."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import Buffer
from scanloom.handbook.chip import Currents, Pin
from scanloom.handbook.limits import known_limit
from scanloom.handbook.series import nearest
from scanloom.handbook.sources import row_fact
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.figures import ChannelFigures, source_match
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import Monotonic, monotonic_guaranteed
from scanloom.stages.levels.network import Missing, colour_stage
from scanloom.stages.levels.remedy import best_part, buffered_colour
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.settle import white_settle
from scanloom.stages.levels.sizing import series_resistance
from scanloom.stages.levels.wired import (
    ColourWiring,
    input_current,
    wired_figures,
    wired_output_current,
    wired_white,
    wired_white_current,
)
from scanloom.stages.levels.wiring import colour_wiring, line_ohm

# boards repeat one network many times over, and the page asks again at every keystroke
monotonic_of: Callable[[OutputNetwork], Monotonic] = lru_cache(maxsize=256)(monotonic_guaranteed)


def judge_channel(
    reading: Reading, known: Known[ChannelDrive], display: Display, verdicts: list[Verdict], fed: int = 1
) -> Known[ChannelLevels] | None:
    """Levels of one driven channel; what is missing becomes an unknown white.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    known : Known
        The channel.
    display : Display
        Its display.
    verdicts : list of Verdict
        Where the verdicts go.
    fed : int
        Channels that hang on these very pins. [1]

    Returns
    -------
    Known or None
        The levels, resting on just this channel's facts.
    """
    read = reading.fork()
    drive = read(known)
    subject = f"displays.{drive.display}.{drive.channel}"
    try:
        wiring = colour_wiring(read, drive, display, fed)
    except Missing as missing:
        verdicts.append(
            read.verdict(
                "levels.white",
                subject,
                "stop",
                missing.says + ".",
                state="fails" if missing.wrong else "unknown",
                settle=Settle(missing.measure, minutes=5, fact=missing.fact),
            )
        )
        return None
    net = wiring.network
    figures, white = wired_figures(wiring), wired_white(wiring)
    verdicts.append(_white(read.fork(), subject, wiring, white, display))
    if net.bits > 1:
        verdicts.append(_linearity(read.fork(), subject, figures))
        verdicts.append(_monotonic(read.fork(), subject, net, figures))
    output = wired_output_current(wiring)
    pin = output if wiring.buffer is None else input_current(wiring.buffer, fed)
    verdicts.append(_pin_current(read.fork(), subject, drive, display, wiring, pin))
    if wiring.buffer is not None:
        verdicts.append(
            buffer_output(read.fork(), wiring.buffer, subject, f"{drive.channel} of {display.name}", output)
        )
    if wiring.style in ("matched", "amplified"):
        verdicts.append(_source_match(read.fork(), subject, figures))
    verdicts.append(_load_heat(read.fork(), subject, wiring, display))
    chip_a, white_a = wired_white_current(wiring)
    return read.known(
        ChannelLevels(drive.display, drive.channel, net, figures, white, pin, white_a, chip_a, output, wiring)
    )


def _white(read: Reading, subject: str, wiring: ColourWiring, white: Span, display: Display) -> Verdict:
    """White against the window that displays expect."""
    net = wiring.network
    limit = known_limit("white")
    low, target, high = limit.value.low, limit.value.typical, limit.value.high
    assert low is not None and target is not None and high is not None
    remedy: list[Patch] = []
    levels = read.plan.dossier.levels
    one_pin = wiring.style in ("direct", "series") and levels is not None and not levels.groups
    if wiring.style == "buffered" and net.bits == 1 and levels is not None and not levels.groups:
        behind = best_part(net)
        if behind is not None:
            remedy.append(Patch("levels.colour.part", f'"{behind[0]}"', f"fit {behind[0]} behind every buffer"))
    if one_pin:
        try:
            ideal = series_resistance(
                net.rail_v.typical, (low + high) / 2, net.load_ohm.typical, net.pin_high_ohm.typical
            )  # a pin that is shared stands in the network as so many times its resistance
            part = nearest("E24", ideal)
            now = net.part_ohm[0]
            if now.typical != part or now.high > part * 1.011:  # else it is the part that is there already
                remedy.append(
                    Patch(
                        "levels.colour",
                        f'{{ style = "series", part = "{part:g} ohm ± 1 %" }}',
                        f"fit {part:g} ohm 1 % at every colour pin",
                    )
                )
        except ValueError:
            pass
    return read.verdict(
        "levels.white",
        subject,
        "stop",
        {
            "holds": f"White of {subject.removeprefix('displays.')} stays inside the window.",
            "fails": f"White of {subject.removeprefix('displays.')} lies outside the window: "
            + ("too bright, it clips and smears." if white.typical > high else "too dark."),
            "unknown": f"White of {subject.removeprefix('displays.')} may leave the window with these tolerances.",
        },
        found=white,
        unit="V",
        low=low,
        high=high,
        target=target,
        limit=limit,
        settle=white_settle(wiring, low, high, display, colour_stage(read.fork(), display)[1]),
        remedy=remedy,
    )


def _linearity(read: Reading, subject: str, figures: ChannelFigures) -> Verdict:
    """Evenness of the steps with typical values."""
    limit = known_limit("inl")
    lin = figures.linearity
    worst = max(lin.inl_lsb, abs(lin.dnl_min_lsb), abs(lin.dnl_max_lsb))
    return read.verdict(
        "levels.linearity",
        subject,
        "caution",
        {
            "holds": "The levels are even enough: no step is off by a whole step.",
            "fails": "The levels are uneven: somewhere they are off by more than a step.",
            "unknown": "",
        },
        found=Span.exact(worst),
        unit="LSB",
        high=limit.value.high,
        limit=limit,
    )


def _monotonic(read: Reading, subject: str, net: OutputNetwork, figures: ChannelFigures) -> Verdict:
    """Whether a brighter code is brighter for every copy that the tolerances allow."""
    limit = known_limit("dnl")
    if figures.linearity.dnl_min_lsb <= -1.0:
        says, state = "A brighter code is darker somewhere, even with exact parts.", "fails"
    elif monotonic_of(net).guaranteed:
        says, state = "A brighter code is brighter with every copy of these parts.", "holds"
    else:
        leg = monotonic_of(net).leg
        says, state = (
            f"With unlucky parts a brighter code may be darker; part {leg + 1}, counted from the largest bit, decides.",
            "unknown",
        )
    return read.verdict(
        "levels.monotonic", subject, "caution", says, state=state, limit=limit,  # type: ignore[arg-type]
        settle=Settle("Fit parts of a tighter tolerance.", minutes=5, fact="levels.colour.part"),
    )  # fmt: skip


def _pin_current(
    read: Reading, subject: str, drive: ChannelDrive, display: Display, wiring: ColourWiring, pin: Span
) -> Verdict:
    """Current of the hardest worked pin against its rating."""
    limits = pin_limits(read, drive.pins)
    if not limits:
        return read.verdict(
            "levels.pin-current", subject, "stop", "How much a pin of this chip may carry is not known.", state="unknown",
            settle=Settle("Look it up in the chip's datasheet.", fact="chip.like"),
        )  # fmt: skip
    most, row = min(limits, key=lambda pair: pair[0])
    shared = f", as it feeds {wiring.fed} inputs" if wiring.is_shared else ""
    return read.verdict(
        "levels.pin-current",
        subject,
        "stop",
        {
            "holds": "No pin of this channel carries more than it may.",
            "fails": f"A pin of this channel carries more than it may{shared}; a buffer per display would take the load.",
            "unknown": f"A pin of this channel may carry more than it may{shared}, with unlucky parts.",
        },
        found=pin,
        unit="A",
        high=most,
        limit=row,
        remedy=() if pin.high <= most else buffered_colour(read, display, len(drive.pins)),
    )


def buffer_output(read: Reading, family: Buffer, subject: str, names: str, current: Span) -> Verdict:
    """Current of one buffer output against its rating.

    Parameters
    ----------
    read : Reading
        Has read what the output drives.
    family : Buffer
        Its logic family.
    subject : str
        Place in the dossier.
    names : str
        What hangs on it, in words.
    current : Span
        Most current out of it. [A]

    Returns
    -------
    Verdict
        ``levels.buffer-current``; some sheets give the absolute most alone, which then counts as rating.
    """
    row = family.output_current
    rated = row.high if row.typical is None else row.typical
    limit = Known(row, (row_fact(f"handbook.buffers.{row.name}", f"{rated:g} {row.unit}", row.source, row.place),))
    return read.verdict(
        "levels.buffer-current",
        subject,
        "caution",
        {
            "holds": f"The buffer output for {names} stays within its rating.",
            "fails": f"The buffer output for {names} is overloaded: give each display an output of its own.",
            "unknown": f"The buffer output for {names} may be overloaded.",
        },
        found=current,
        unit="A",
        high=rated,
        limit=limit,
    )


def _source_match(read: Reading, subject: str, figures: ChannelFigures) -> Verdict:
    """What a source that was meant to match sends out again of an echo."""
    limit = known_limit("source-match")
    line = line_ohm(read)
    return read.verdict(
        "levels.source-match",
        subject,
        "note",
        {
            "holds": "The source absorbs what comes back from the display.",
            "fails": "The source does not match the cable: it sends what comes back out again.",
            "unknown": "",
        },
        found=Span.exact(abs(source_match(figures.source_ohm, line))),
        unit="1",
        high=limit.value.high,
        limit=limit,
    )


def _load_heat(read: Reading, subject: str, wiring: ColourWiring, display: Display) -> Verdict:
    """Heat in the display's own termination, a steady white shown."""
    limit = known_limit("load-heat")
    return read.verdict(
        "levels.load-heat",
        subject,
        "caution",
        {
            "holds": "A steady white does not overheat the termination inside the display.",
            "fails": f"A steady white may overheat the termination inside {display.name}: the level is far too high.",
            "unknown": f"A steady white may overheat the termination inside {display.name}.",
        },
        found=load_heat(wiring),
        unit="W",
        high=limit.value.high,
        limit=limit,
    )


@lru_cache(maxsize=256)
def load_heat(wiring: ColourWiring) -> Span:
    """Bounds of the heat in the termination of one colour input at white.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    Span
        Heat; exact but where a ladder or a shared pin meets a load that reaches the source's own resistance. [W]

    References
    ----------
    [matching] Heat rises with the load up to the source's resistance, then falls: least at an end of the load's span,
    most at an end or where it equals the resistance of the strongest source.
    """
    amplifier, net = wiring.amplifier, wiring.network
    if amplifier is not None:
        span, strong_ohm = amplifier.load_ohm, amplifier.back_ohm.low
    elif net.style == "ladder":
        span, strong_ohm = net.load_ohm, wired_figures(wiring).source_ohm
    else:
        siemens = [1.0 / max(part.low + net.pin_high_ohm.low, 1e-9) for part in net.part_ohm]
        span = net.load_ohm
        strong_ohm = 1.0 / (sum(siemens) + (0.0 if net.shunt_ohm is None else 1.0 / net.shunt_ohm.high))
    found = []
    for ohm in (span.low, span.typical, span.high, min(max(strong_ohm, span.low), span.high)):
        load = Span.exact(ohm)
        if amplifier is None:
            one = replace(wiring, network=replace(net, load_ohm=load))
        else:
            one = replace(wiring, amplifier=replace(amplifier, load_ohm=load))
        white = wired_white(one)
        found.append((white.low**2 / ohm, white.typical**2 / ohm, white.high**2 / ohm))
    return Span(min(f[0] for f in found), found[1][1], max(f[2] for f in found))


def pin_limits(read: Reading, pins: tuple[int, ...]) -> list[tuple[float, Known[Currents] | Known[Pin]]]:
    """Ratings that hold for pins, as the chip's record gives them.

    Parameters
    ----------
    read : Reading
        Notes which chip it is.
    pins : tuple of int
        The pins. [1]

    Returns
    -------
    list of tuple
        Current and the row it is from. [A]
    """
    chip, facts = read.plan.chip, read.plan.dossier.chip
    if chip is None or facts is None:
        return []
    read.maybe(facts.like)
    found: list[tuple[float, Known[Currents] | Known[Pin]]] = []
    for row in chip.table.current:
        if row.over == "each pin" and (row.pins is None or set(row.pins) & set(pins)):
            found.append((float(row.amount), chip.known("current", row)))
    for pin in pins:
        found.extend((float(r.most), chip.known("pin", r)) for r in chip.pin_rows(pin) if r.most is not None)
    return found
