"""Verdicts on one colour channel: white, evenness, current."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Currents, Pin
from scanloom.handbook.limits import known_limit
from scanloom.handbook.series import nearest
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.figures import ChannelFigures, channel_figures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import Monotonic, monotonic_guaranteed
from scanloom.stages.levels.network import Missing, colour_network
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.sizing import series_resistance
from scanloom.stages.levels.tolerance import pin_current_spans, rail_current_span, white_span

# boards repeat one network many times over, and the page asks again at every keystroke
figures_of: Callable[[OutputNetwork], ChannelFigures] = lru_cache(maxsize=256)(channel_figures)
monotonic_of: Callable[[OutputNetwork], Monotonic] = lru_cache(maxsize=256)(monotonic_guaranteed)


def judge_channel(
    reading: Reading, known: Known[ChannelDrive], display: Display, verdicts: list[Verdict]
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

    Returns
    -------
    Known or None
        The levels, resting on just this channel's facts.
    """
    read = reading.fork()
    drive = read(known)
    subject = f"displays.{drive.display}.{drive.channel}"
    try:
        net = colour_network(read, drive, display)
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
    figures = figures_of(net)
    white = white_span(net)
    verdicts.append(_white(read.fork(), subject, net, white, display))
    if net.bits > 1:
        verdicts.append(_linearity(read.fork(), subject, figures))
        verdicts.append(_monotonic(read.fork(), subject, net, figures))
    pin = max((p.source_a for p in pin_current_spans(net)), key=lambda s: s.high)
    verdicts.append(_pin_current(read.fork(), subject, drive, pin))
    current = rail_current_span(net, net.white_code)
    return read.known(ChannelLevels(drive.display, drive.channel, net, figures, white, pin, current))


def _white(read: Reading, subject: str, net: OutputNetwork, white: Span, display: Display) -> Verdict:
    """White against the window that displays expect."""
    limit = known_limit("white")
    low, target, high = limit.value.low, limit.value.typical, limit.value.high
    assert low is not None and target is not None and high is not None
    remedy: list[Patch] = []
    levels = read.plan.dossier.levels
    one_pin = net.style == "series" and levels is not None and not levels.groups
    if one_pin:
        try:
            ideal = series_resistance(
                net.rail_v.typical, (low + high) / 2, net.load_ohm.typical, net.pin_high_ohm.typical
            )
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
        settle=_load_reading(net, low, high, display),
        remedy=remedy,
    )


def _load_reading(net: OutputNetwork, low: float, high: float, display: Display) -> Settle:
    """The ohmmeter reading of the load, with the values between which white holds, everything else at its worst."""
    what = f"Measure pin 1 to pin 6 of {display.name}'s plug with an ohmmeter, display off."
    key = f"displays.{display.name}.colour_load"
    if net.style != "series":
        return Settle(what, "close to 75 ohm", "far from it", 2, key)
    weak = net.part_ohm[0].high + net.pin_high_ohm.high
    strong = net.part_ohm[0].low + net.pin_high_ohm.low
    # V = rail x load / (load + rest), solved for the load at either limit
    least = low * weak / (net.rail_v.low - low) if net.rail_v.low > low else None
    most = high * strong / (net.rail_v.high - high) if net.rail_v.high > high else None
    if least is None or most is None or least > most:
        return Settle(what, "no reading alone decides it: tighten the part or the pin first", "", 2, key)
    return Settle(what, f"{least:.1f} to {most:.1f} ohm", "outside that", 2, key)


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


def _pin_current(read: Reading, subject: str, drive: ChannelDrive, pin: Span) -> Verdict:
    """Current of the hardest worked pin against its rating."""
    limits = pin_limits(read, drive.pins)
    if not limits:
        return read.verdict(
            "levels.pin-current", subject, "stop", "How much a pin of this chip may carry is not known.", state="unknown",
            settle=Settle("Look it up in the chip's datasheet.", fact="chip.like"),
        )  # fmt: skip
    most, row = min(limits, key=lambda pair: pair[0])
    return read.verdict(
        "levels.pin-current",
        subject,
        "stop",
        {
            "holds": "No pin of this channel carries more than it may.",
            "fails": "A pin of this channel carries more than it may; a buffer per display would take the load.",
            "unknown": "A pin of this channel may carry more than it may, with unlucky parts.",
        },
        found=pin,
        unit="A",
        high=most,
        limit=row,
    )


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
