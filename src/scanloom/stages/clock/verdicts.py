"""Is the pixel rate that the chip really makes near enough, steady, and repeated line by line."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.clock.model import ClockCandidate


def no_chain(read: Reading, why: str) -> Verdict:
    """Nothing is known of how the chip makes the clock that is asked for.

    Parameters
    ----------
    read : Reading
        Notes what led here.
    why : str
        What is missing, as a sentence.

    Returns
    -------
    Verdict
        ``clock.error``, unknown.
    """
    return read.verdict(
        "clock.error", f"rigs.{read.rig_name}.clock", "stop", why, state="unknown",
        settle=Settle("Look up the clock tree in the chip's manual.", fact="chip.like"),
    )  # fmt: skip


def judge_error(read: Reading, best: ClockCandidate, target_hz: Fraction) -> Verdict:
    """Distance from the rate the raster asks for.

    Parameters
    ----------
    read : Reading
        Has read raster and clock chains; notes the limit.
    best : ClockCandidate
        Rate and recipe in use.
    target_hz : Fraction
        Rate the raster asks for, above zero. [Hz]

    Returns
    -------
    Verdict
        ``clock.error``; too fast and too slow count alike.
    """
    ppm = float(abs(best.achieved_hz / target_hz - 1) * 1_000_000)
    limit = known_limit("clock-error")
    return read.verdict(
        "clock.error",
        f"rigs.{read.rig_name}.clock",
        "stop",
        {
            "holds": f"The chip makes the pixel rate as {best.recipe}.",
            "fails": f"The nearest pixel rate the chip makes is {best.recipe}.",
            "unknown": "",
        },
        found=Span.exact(ppm),
        unit="ppm",
        high=limit.value.high,
        limit=limit,
    )


def judge_chosen(read: Reading, wanted_hz: Fraction, best: ClockCandidate) -> Verdict:
    """Whether the chip makes just the rate that the rig fixes, to the nearest hertz.

    Parameters
    ----------
    read : Reading
        Has read the rig's clock and the clock chains.
    wanted_hz : Fraction
        Rate that the rig fixes. [Hz]
    best : ClockCandidate
        Nearest rate the chip makes, and its recipe.

    Returns
    -------
    Verdict
        ``clock.chosen``; its remedy fixes the nearest rate instead.
    """
    off = abs(best.achieved_hz - wanted_hz)
    exact = off <= Fraction(1, 2)
    subject = f"rigs.{read.rig_name}.clock"
    rate = f"{float(best.achieved_hz) / 1e6:.6f} MHz"
    return read.verdict(
        "clock.chosen",
        subject,
        "stop",
        "The chip makes the rate that the rig fixes."
        if exact
        else f"The chip cannot make the rate that the rig fixes; {rate} is nearest.",
        state="holds" if exact else "fails",
        remedy=(Patch(subject, f'"{rate}; because the chip makes it"', "fix the nearest rate the chip makes"),),
    )


def judge_wobble(read: Reading, best: ClockCandidate) -> tuple[Verdict, ...]:
    """Steadiness of the pixel edges within a line and from line to line, and what no figure is published for.

    Parameters
    ----------
    read : Reading
        Has read raster and clock chains.
    best : ClockCandidate
        Rate and recipe in use.

    Returns
    -------
    tuple of Verdict
        ``clock.wobble``, ``clock.repeat``, and ``clock.noise`` where the wobble is not all there is to say.
    """
    subject = f"rigs.{read.rig_name}.clock"
    limit = known_limit("clock-wobble")
    lines = best.lines_repeat_after
    repeat = read.fork()
    wobble = read.fork().verdict(
        "clock.wobble",
        subject,
        "caution",
        {
            "holds": "Every pixel is a whole number of source clocks: its edges do not wobble."
            if not best.wobble_px
            else "Pixel edges wobble less than a display can show.",
            "fails": "Pixel edges wobble from pixel to pixel: a fractional divider is right on average only.",
            "unknown": "",
        },
        found=Span.exact(float(best.wobble_px)),
        unit="pixel",
        high=limit.value.high,
        limit=limit,
    )
    repeats = repeat.verdict(
        "clock.repeat",
        subject,
        "caution",
        "Every line falls on the source clocks like the one before."
        if lines == 1
        else f"The edges fall alike only every {lines} lines: columns shift from line to line.",
        found=Span.exact(float(lines)),
        unit="lines",
        high=1.0,
    )
    if best.noise_known:
        return wobble, repeats
    noise = read.fork().verdict(
        "clock.noise", subject, "note", "No figure is published for the noise of this clock source.", state="unknown",
        settle=Settle("Look at horizontal sync on an oscilloscope, triggered on it, one line later.",
                      "edges within 15 % of a pixel", "a blurred edge wider than that", 15, f"{subject}"),
    )  # fmt: skip
    return wobble, repeats, noise
