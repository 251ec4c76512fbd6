"""Resistors from pins to a display's colour inputs, with what they carry at white."""

from __future__ import annotations

from scanloom.basis.span import Span
from scanloom.dossier.plan import Plan
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.report.figures import figure
from scanloom.stages.levels import ChannelLevels
from scanloom.survey import RigSurvey

_ROW = 34.0


def resistor_network(rig: RigSurvey, plan: Plan, display: str) -> Drawing | None:
    """Output network of one display.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for the pins.
    display : str
        The display.

    Returns
    -------
    Drawing or None
        None where none of its channels is known.
    """
    channels = [c for c in (rig.levels.channels if rig.levels is not None else ()) if c.display == display]
    if not channels or rig.lanes is None:
        return None
    pins = {(known.value.display, known.value.channel): known.value.pins for known in rig.lanes.channels}
    guess = _pin_is_guess(plan)
    most = max(channels, key=lambda c: c.white_a.high)
    return drawing(
        "resistor-network",
        f"Resistors of {display}",
        "From each pin through its part to the display's load: resistance inside the pin, the part, the load, and the level "
        "at white. The drawing gives typical values, the tables the bounds. A dotted outline rests on a guess.",
        f"White draws up to {figure(most.white_a.high, 'A')} a channel.",
        lambda width: _draw(width, channels, pins, guess),
        Table(
            "Each channel",
            ("Channel", "Style", "Parts", "Load", "White", "Hardest pin#"),
            tuple(
                (
                    c.channel,
                    c.network.style,
                    ", ".join(_ohms(p) for p in c.network.part_ohm),
                    _ohms(c.network.load_ohm),
                    f"{c.white_v.low:.3f} to {c.white_v.high:.3f} V",
                    figure(c.pin_a.high, "A"),
                )
                for c in channels
            ),
        ),
    )


def _ohms(span: Span) -> str:
    """A resistance with its bounds."""
    if span.is_exact:
        return figure(span.typical, "ohm")
    return (
        f"{span.low:g} to {span.high:g} ohm"
        if span.high < 1e4
        else f"{figure(span.low, 'ohm')} to {figure(span.high, 'ohm')}"
    )


def _pin_is_guess(plan: Plan) -> bool:
    """Whether nobody has measured the pins."""
    facts = plan.dossier.chip
    if facts is None or facts.pin_high is None:
        return True
    return any(fact.is_guess for fact in facts.pin_high.facts)


def _draw(
    width: float, channels: list[ChannelLevels], pins: dict[tuple[str, str], tuple[int, ...]], guess: bool
) -> tuple[str, float]:
    """One row a bit, channels below one another."""
    wide = width > 500
    tag, box = (54.0, 84.0) if wide else (44.0, 68.0)
    x_pin, x_part = tag + 22, tag + 22 + box + (34 if wide else 8)
    x_node = x_part + box + (44 if wide else 12)
    x_load = x_node + (90 if wide else 14)
    out: list[str] = []
    if wide:
        out.append(svg.text(x_pin + box / 2, 12, "in the pin", "m q"))
        out.append(svg.text(x_part + box / 2, 12, "part", "m q"))
        out.append(svg.text(x_load + box / 2, 12, "display's load", "m q"))
    top = 22.0 if wide else 6.0
    for channel in channels:
        net = channel.network
        mine = pins.get((channel.display, channel.channel), ())
        bits = len(net.part_ohm)
        ladder = net.style == "ladder"
        # the connector is the tap of the most significant leg; where legs only meet, it hangs in the middle of them
        middle = top + 12 if ladder else top + _ROW * (bits - 1) / 2 + 12
        for bit, part in enumerate(net.part_ohm):
            y = top + _ROW * bit + 12
            pin = f"{mine[bit]}" if bit < len(mine) else "?"
            out.append(svg.line(tag, y, x_node, y, f"lane {channel.channel}"))
            out.append(svg.path(f"M.75 {y - 12:.1f}h{tag - 11:.0f}l10 12l-10 12h-{tag - 11:.0f}z", "tag"))
            out.append(svg.text(5, y + 4.5, f"pin {pin}" if wide else pin, "bo"))
            for x, words, kind in (
                (x_pin, f"{net.pin_high_ohm.typical:.3g} ohm", "part gs" if guess else "part"),
                (x_part, figure(part.typical, "ohm"), "part"),
            ):
                out.append(svg.rect(x, y - 12, box, 24, kind))
                out.append(svg.text(x + box / 2, y + 4.5, words, "m"))
            if bit and ladder and bit <= len(net.rung_ohm):
                rung = f"{figure(net.rung_ohm[bit - 1].typical, 'ohm')} between" if wide else "rung"
                out.append(svg.text(x_node + 6, y - _ROW / 2 + 8, rung, "q"))
        if bits > 1:
            out.append(svg.line(x_node, top + 12, x_node, top + 12 + _ROW * (bits - 1), "w"))
        if ladder and net.terminator_ohm is not None:
            low = top + 12 + _ROW * (bits - 1)
            out.append(svg.path(f"M{x_node:.1f} {low:.1f}v14m-8 0h16m-13 4h10m-7 4h4", "w"))
            ground = f"{figure(net.terminator_ohm.typical, 'ohm')} to ground"
            out.append(svg.text(x_node + 12, low + 25, ground, "q") if wide else "")
        out.append(svg.line(x_node, middle, x_load, middle, f"lane {channel.channel}"))
        out.append(svg.rect(x_load, middle - 12, box, 24, "part"))
        out.append(svg.text(x_load + box / 2, middle + 4.5, figure(net.load_ohm.typical, "ohm"), "m"))
        white = f"{channel.white_v.typical:.3f} V"
        if wide:
            out.append(svg.text(x_load + box + 10, middle - 1, f"{channel.channel}", "bo"))
            out.append(svg.text(x_load + box + 10, middle + 14, f"{white}, {figure(channel.white_a.typical, 'A')}"))
        else:
            out.append(
                svg.text(
                    0, top + _ROW * bits + 6, f"{channel.channel} {white}, {figure(channel.white_a.typical, 'A')}", "bo"
                )
            )
        top += _ROW * bits + (10 if wide else 26) + (14 if ladder else 0)
    return "".join(out), top + 4
