"""Verdicts on how quickly a colour follows its pixels: capacitance at the connector, and the amplifier."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.model import Amplifier as AmplifierFacts
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit, known_row
from scanloom.stages.levels.amplifier import bandwidth_needed, slew_needed
from scanloom.stages.levels.model import parallel
from scanloom.stages.levels.network import colour_stage
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.wiring import line_ohm
from scanloom.stages.timing import RasterTiming

NONE = Span.exact(0.0)
"""No capacitance. [F]"""


def rise_of_channel(
    source_ohm: float, cable_ohm: float, at_connector_f: float, at_input_f: float, edge_s: float
) -> float:
    """Rise at the display's input, the cable's own loss left out.

    Parameters
    ----------
    source_ohm : float
        What the connector shows to the cable, zero or more. [ohm]
    cable_ohm : float
        Cable and termination, taken as equal, above zero. [ohm]
    at_connector_f : float
        Capacitance at the connector. [F]
    at_input_f : float
        Capacitance of the display's input. [F]
    edge_s : float
        Edge of the output, a straight ramp from end to end. [s]

    Returns
    -------
    float
        Rise from 10 to 90 %. [s]

    Raises
    ------
    ValueError
        If an argument is out of its bounds.

    References
    ----------
    [pole] At the connector source and cable side by side, at the input cable and termination; each single pole rises in
    ln 9 time constants, and rises that follow one another add as the root of their squares.
    """
    if cable_ohm <= 0.0 or min(source_ohm, at_connector_f, at_input_f, edge_s) < 0.0:
        raise ValueError(
            f"rise: source {source_ohm} ohm, line {cable_ohm} ohm, {at_connector_f} F, {at_input_f} F, edge {edge_s} s; "
            "allowed are a line above zero, the rest zero or more; give their real values"
        )
    connector_s = source_ohm * cable_ohm / (source_ohm + cable_ohm) * at_connector_f
    return math.hypot(
        math.log(9.0) * connector_s, math.log(9.0) * parallel(cable_ohm, cable_ohm) * at_input_f, 0.8 * edge_s
    )


def judge_edges(
    reading: Reading,
    channels: Sequence[Known[ChannelLevels]],
    raster: Known[RasterTiming] | None,
    verdicts: list[Verdict],
) -> None:
    """Rise of the colours against the length of a pixel, and what amplifiers need for it.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    channels : sequence of Known
        Channels whose levels are known.
    raster : Known or None
        The raster, for the length of a pixel.
    verdicts : list of Verdict
        Where the verdicts go.
    """
    if not channels:
        return
    verdicts.append(_edge(reading.fork(), channels, raster))
    board = reading.plan.dossier.board
    if board is not None and board.protection is not None:
        verdicts.append(_protection(reading.fork(), board.protection))
    seen: set[str] = set()
    for known in channels:
        if known.value.wiring.amplifier is None:
            continue
        stage, key = colour_stage(reading.fork(), reading.plan.displays[known.value.display])
        if stage is not None and key not in seen:
            seen.add(key)
            read = reading.fork()
            read(known)
            verdicts.extend(_amplifier(read, key, stage.amplifier, known.value, raster))


def _edge(read: Reading, channels: Sequence[Known[ChannelLevels]], raster: Known[RasterTiming] | None) -> Verdict:
    """Rise of the slowest channel, as a share of a pixel."""
    board = read.plan.dossier.board
    stated = board is not None and board.protection is not None
    for known in channels:
        read(known)
    guard = read(board.protection) if board is not None and board.protection is not None else None
    if guard is None:
        guard = read.assume("board.protection", NONE, "none", "no part guards the colours")
    limit = known_limit("rise")
    cable_ohm = line_ohm(read)
    found: Span | None = None
    if raster is not None:
        connector, at_input, edge = [
            read(known_row("supply_usual", name)).span() for name in ("connector", "colour-input", "pin-edge")
        ]
        pixel_s = read(raster).pixel_s
        source_ohm = max(known.value.figures.source_ohm for known in channels)
        ends = zip(
            (connector.low, connector.typical, connector.high),
            (guard.low, guard.typical, guard.high),
            (at_input.low, at_input.typical, at_input.high),
            (edge.low, edge.typical, edge.high),
            strict=True,
        )
        found = Span(
            *(rise_of_channel(source_ohm, cable_ohm, own + more, far, ramp) / pixel_s for own, more, far, ramp in ends)
        )
    return read.verdict(
        "levels.colour-edge",
        f"rigs.{read.rig_name}.raster",
        "caution" if stated else "note",
        {
            "holds": "The colours follow their pixels, the cable's loss left out.",
            "fails": "The colours do not follow their pixels: single bright pixels stay dim; less capacitance at the connectors helps.",
            "unknown": "Whether the colours follow their pixels is not sure.",
        },
        found=found,
        unit="pixel",
        high=limit.value.high,
        limit=limit,
        settle=Settle("Read the capacitance of the part that guards the colours in its sheet.", minutes=5, fact="board.protection"),
    )  # fmt: skip


def _protection(read: Reading, stated: Known[Span]) -> Verdict:
    """Capacitance of the part that guards a colour, for itself."""
    limit = known_limit("protection")
    return read.verdict(
        "levels.protection",
        "board.protection",
        "note",
        {
            "holds": "The part that guards the colours adds little capacitance.",
            "fails": "The part that guards the colours adds much capacitance: there are such parts below 5 pF.",
            "unknown": "The part that guards the colours may add much capacitance.",
        },
        found=read(stated),
        unit="F",
        high=limit.value.high,
        target=limit.value.typical,
        limit=limit,
    )


def _amplifier(
    read: Reading, key: str, facts: AmplifierFacts | None, channel: ChannelLevels, raster: Known[RasterTiming] | None
) -> tuple[Verdict, Verdict]:
    """Bandwidth and slew of an amplifier against what a third of a pixel needs."""
    limit = known_limit("rise")
    share, amplifier = limit.value.high, channel.wiring.amplifier
    assert share is not None and amplifier is not None
    pixel_s = None if raster is None else read(raster).pixel_s
    swing_v = (
        channel.white_v.typical * (amplifier.back_ohm.typical + amplifier.load_ohm.typical) / amplifier.load_ohm.typical
    )
    bandwidth, slew = read.fork(), read.fork()
    wide = bandwidth.maybe(facts.bandwidth) if facts is not None else None
    steep = slew.maybe(facts.slew) if facts is not None else None
    most_hz = None if pixel_s is None else bandwidth_needed(pixel_s, share)
    most_v_s = None if pixel_s is None else slew_needed(swing_v, pixel_s, share)
    return (
        bandwidth.verdict(
            "levels.amplifier-bandwidth", f"{key}.amplifier", "caution",
            {
                "holds": "The amplifier is quick enough for a single pixel.",
                "fails": "The amplifier is too slow for a single pixel: fine detail goes grey.",
                "unknown": "Whether the amplifier is quick enough for a single pixel is not known.",
            },
            found=wide, unit="Hz", low=most_hz, limit=limit,
            state="unknown" if wide is None or most_hz is None else None,
            settle=Settle("Read the bandwidth at this gain in the amplifier's sheet.", minutes=5, fact=f"{key}.amplifier.bandwidth"),
        ),
        slew.verdict(
            "levels.amplifier-slew", f"{key}.amplifier", "caution",
            {
                "holds": "The amplifier makes an edge as steep as a pixel needs.",
                "fails": "The amplifier cannot make an edge as steep as a pixel needs.",
                "unknown": "Whether the amplifier makes an edge as steep as a pixel needs is not known.",
            },
            found=steep, unit="V/s", low=most_v_s, limit=limit,
            state="unknown" if steep is None or most_v_s is None else None,
            settle=Settle("Read the slew rate in the amplifier's sheet.", minutes=5, fact=f"{key}.amplifier.slew"),
        ),
    )  # fmt: skip
