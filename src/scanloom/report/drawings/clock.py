"""Pixel rates the chip can make on a number line, and how pixel edges fall on source clocks."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache

from scanloom.dossier.plan import Plan
from scanloom.handbook.chip import Chip
from scanloom.handbook.clock_chain import ClockChain, ClockStep
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.report.figures import figure
from scanloom.stages.clock import WITHIN_PPM, ClockCandidate, chains_for, enumerate_chains
from scanloom.stages.clock.wobble import wobble_px
from scanloom.survey import RigSurvey

MOST_RATES = 10
"""Rates shown; a choice is made among the first few. [1]"""
_SHOWN_CLOCKS = 48


def rate_line(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """Rates near the one asked for.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for chip and stream.

    Returns
    -------
    Drawing or None
        None where chip or clock are not known.
    """
    if rig.clock is None or plan.chip is None:
        return None
    clock = rig.clock.value
    near = _near(rig, plan)
    used = clock.candidate
    rates = near if any(one.achieved_hz == used.achieved_hz for one in near) else (used, *near)
    ppm = {one.achieved_hz: float((one.achieved_hz / clock.target_hz - 1) * 1_000_000) for one in rates}
    steady = sum(one.wobble_px == 0 and abs(ppm[one.achieved_hz]) <= WITHIN_PPM for one in rates)
    return drawing(
        "rate-line",
        "Rates the chip can make",
        f"Distance from the {figure(float(clock.target_hz), 'Hz')} that the raster asks for, in parts per million. A full "
        "mark is a rate whose pixels all last equally long, a hollow one a rate whose edges wobble.",
        f"In use: {figure(float(used.achieved_hz), 'Hz')}, {ppm[used.achieved_hz]:+.1f} ppm, {used.recipe}. "
        f"{steady} steady rates shown lie within {WITHIN_PPM} ppm.",
        lambda width: _draw_line(width, rates, used.achieved_hz, ppm),
        Table(
            "Rates near the wanted one, best first",
            ("Rate", "Off#", "Wobble#", "System clock#", "How"),
            tuple(
                (
                    figure(float(one.achieved_hz), "Hz") + (", in use" if one.achieved_hz == used.achieved_hz else ""),
                    f"{ppm[one.achieved_hz]:+.1f} ppm",
                    f"{float(one.wobble_px):.3f} px" if one.wobble_px else "none",
                    figure(float(one.system_hz), "Hz") if one.system_hz else "apart",
                    one.recipe,
                )
                for one in rates
            ),
        ),
    )


def edge_lattice(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """How the edges of neighbouring pixels fall on source clocks.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for the chip's chains.

    Returns
    -------
    Drawing or None
        None where the source clocks of a pixel cannot be told from the setting with the wobble that the stage found.
    """
    if rig.clock is None or plan.chip is None:
        return None
    used = rig.clock.value.candidate
    chain = next((c for c in plan.chip.table.clock if c.name == used.chain), None)
    ratio = clocks_per_pixel(chain, used) if chain is not None else None
    if ratio is None or wobble_px(ratio) != used.wobble_px:
        return None
    words = f"{ratio}" if ratio.denominator == 1 else f"{float(ratio):.4f}".rstrip("0")
    result = (
        f"A pixel is {words} source clock{'s' if ratio != 1 else ''}: every pixel lasts equally long."
        if ratio.denominator == 1
        else f"A pixel is {words} source clocks on average: edges stray over {float(used.wobble_px):.3f} of a pixel."
    )
    return drawing(
        "edge-lattice",
        "Edges on the source clock",
        "Thin marks are edges of the source clock, bars are pixels as sent; a pixel can begin on a source edge and nowhere "
        "else. Small triangles stand where even pixels would begin.",
        result,
        lambda width: _draw_lattice(width, ratio),
    )


def clocks_per_pixel(chain: ClockChain, used: ClockCandidate) -> Fraction | None:
    """Source clocks in a pixel: all that is divided after the last multiplication.

    Parameters
    ----------
    chain : ClockChain
        The chain in use.
    used : ClockCandidate
        Its setting.

    Returns
    -------
    Fraction or None
        Exact; None where a register does not tell its value. [cycle/px]
    """
    registers = dict(used.settings)
    ratio = Fraction(chain.fixed)
    for step in reversed(chain.steps):
        if step.op == "multiply":
            break
        value = _value(step, registers.get(step.name))
        if value is None:
            return None
        ratio *= value
    return ratio


def _value(step: ClockStep, register: int | str | None) -> Fraction | None:
    """Divisor that a register stands for."""
    if register is None:
        return None
    if isinstance(register, str):
        whole, _, part = register.partition("+")
        return Fraction(int(whole)) + (Fraction(part) if part else 0)
    if step.register_first is not None:
        return Fraction((register - step.register_first) * step.step + step.first, step.per)
    return Fraction(register)


def _near(rig: RigSurvey, plan: Plan) -> tuple[ClockCandidate, ...]:
    """Rates near the target, steady ones first."""
    assert rig.clock is not None and plan.chip is not None
    choice = next((r for r in plan.rigs if r.name == rig.name), None)
    stream = " ".join(choice.stream.value.split()) if choice is not None and choice.stream is not None else None
    facts = plan.dossier.chip
    bounds = None
    if facts is not None and facts.system is not None:
        bounds = (facts.system.value.low, facts.system.value.high)
    raster = rig.clock.value.made
    return _enumerated(_Chip(plan.chip), stream, rig.clock.value.target_hz, raster.h.total_px, bounds)


class _Chip:
    """A chip record as a key of the cache: its name and chains tell it apart."""

    def __init__(self, chip: Chip) -> None:
        self.chip = chip
        self._key = (chip.name, repr(chip.table.clock))

    def __eq__(self, other: object) -> bool:
        """Whether two records make the same rates."""
        return isinstance(other, _Chip) and self._key == other._key

    def __hash__(self) -> int:
        """Hash of what is compared."""
        return hash(self._key)


@lru_cache(maxsize=64)
def _enumerated(
    chip: _Chip, stream: str | None, target: Fraction, h_total_px: int, bounds: tuple[float, float] | None
) -> tuple[ClockCandidate, ...]:
    """The search, kept: an edit elsewhere need not pay for it again."""
    system = None if bounds is None else (Fraction(bounds[0]), Fraction(bounds[1]))
    chains = chains_for(chip.chip, stream)
    found = enumerate_chains(chains, target, h_total_px=h_total_px, system_hz=system, whole_only=True, limit=MOST_RATES)
    if found and found[0].within:
        return tuple(found)
    return tuple(enumerate_chains(chains, target, h_total_px=h_total_px, system_hz=system, limit=MOST_RATES))


def _draw_line(
    width: float, rates: tuple[ClockCandidate, ...], used: Fraction, ppm: dict[Fraction, float]
) -> tuple[str, float]:
    """The number line."""
    inside = [abs(value) for value in ppm.values() if abs(value) <= WITHIN_PPM]
    reach = min(1.2 * WITHIN_PPM, max(2.0, 1.15 * max(inside, default=float(WITHIN_PPM))))
    x = svg.scale(-reach, reach, 20, width - 20)
    out: list[str] = []
    if reach > WITHIN_PPM:
        out.append(svg.rect(x(-WITHIN_PPM), 34, x(WITHIN_PPM) - x(-WITHIN_PPM), 46, "win"))
    out.append(svg.line(20, 80, width - 20, 80, "axis"))
    for value in svg.ticks(-reach, reach, 8 if width > 500 else 5):
        out.append(svg.line(x(value), 80, x(value), 86, "axis"))
        out.append(svg.text(x(value), 100, f"{value:+g}" if value else "0", "m q"))
    out.append(svg.line(x(0), 34, x(0), 80, "lead"))
    near = abs(x(ppm[used]) - x(0)) < 90
    if not near:
        out.append(svg.text(x(0), 30, "wanted", "m q"))
    for one in rates:
        off = ppm[one.achieved_hz]
        if abs(off) > reach:
            continue
        if one.achieved_hz == used:
            out.append(svg.rect(x(off) - 3, 44, 6, 36, "sp"))
            out.append(svg.path(f"M{x(off) - 6:.1f} 36h12l-6 8z", "sp"))
            words = "in use, as wanted" if near and abs(off) < 0.05 else "in use"
            side = "e bo" if off > 0 else "bo"
            out.append(svg.text(x(off) + (-10 if off > 0 else 10), 16, words, side))
            out.append(svg.line(x(off), 20, x(off), 36, "lead"))
        else:
            out.append(svg.rect(x(off) - 1.5, 60, 3, 20, "sp" if one.wobble_px == 0 else "hollow"))
    far = sum(abs(ppm[one.achieved_hz]) > reach for one in rates)
    out.append(svg.text(width - 20, 118, "ppm", "e q"))
    if far:
        out.append(svg.text(20, 118, f"{far} further rates lie outside", "q"))
    return "".join(out), 124


def _draw_lattice(width: float, ratio: Fraction) -> tuple[str, float]:
    """Source clocks and pixels, a few of them."""
    clocks = max(_SHOWN_CLOCKS if width > 500 else _SHOWN_CLOCKS // 2, math.ceil(3 * ratio))
    pixels = max(1, math.floor(clocks / ratio))
    clocks = math.ceil(pixels * ratio)
    each = 1
    while clocks / each > width / 5:
        each *= 10
    x = svg.scale(0, clocks, 2, width - 2)
    out = [svg.line(x(at), 8, x(at), 26, "lead") for at in range(0, clocks + 1, each)]
    for number in range(pixels):
        start, end = math.ceil(number * ratio), math.ceil((number + 1) * ratio)
        out.append(svg.rect(x(start), 32, x(end) - x(start), 20, "sp" if number % 2 == 0 else "hollow"))
        even = x(float(number * ratio))
        out.append(svg.path(f"M{even - 4:.1f} 64h8l-4 -8z", "ct"))
    marks = "" if each == 1 else f"; a mark each {each}"
    out.append(svg.text(2, 82, f"{pixels} pixel{'s' if pixels > 1 else ''} in {clocks} source clocks{marks}", "q"))
    return "".join(out), 90
