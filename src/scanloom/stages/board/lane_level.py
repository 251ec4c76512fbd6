"""Level of white at a connector with the parts as listed, by the sums of the levels."""

from __future__ import annotations

from collections.abc import Iterator

from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged
from scanloom.handbook.limits import known_limit
from scanloom.stages.board.built import BuiltChannel, in_order
from scanloom.stages.board.colour_stage import Decided
from scanloom.stages.board.links import Link
from scanloom.stages.board.pads import nets_from
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.trace import Lane, Trace, place_of
from scanloom.stages.levels.wired import ColourWiring, wired_white


def judge_level(
    sight: Sight, lane: Lane, decided: Decided, trace: Trace, built: BuiltChannel, stage_right: bool
) -> None:
    """Judge white as the listed parts give it, and each part against the dossier's.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lane : Lane
        The channel.
    decided : Decided
        Its stage by the dossier.
    trace : Trace
        Its parts.
    built : BuiltChannel
        Its network as built.
    stage_right : bool
        Whether the parts make up the decided stage.
    """
    used, end = nets_from(sight.graph), f"{lane.connector.name}-{lane.wanted[1]}"
    bare = next((link for link in trace.links if link.ohm is None), None)
    if bare is not None:
        sight.verdict(
            "board.lane-level", lane.subject, "stop", f"The value of {bare.name} is not known, so the level is not, either.",
            state="unknown", used=used, place=place_of(sight.graph, lane, bare), doubt=bare.lacks,
        )  # fmt: skip
        return
    if not decided.plugged:
        return
    if decided.wiring is None:
        sight.verdict(
            "board.lane-level", lane.subject, "stop", f"{decided.lacks}, so the level of the parts as listed is not known.",
            state="unknown", used=used, read=decided.read, place=lane.place, doubt=decided.measure,
        )  # fmt: skip
        return
    if built.network is None:
        sight.verdict(
            "board.lane-level", lane.subject, "stop", f"{built.unsure}, so the level of the parts as listed is not known.",
            state="unknown", used=used, read=decided.read, place=lane.place,
            doubt="The levels have no sum for it: compare its parts with the dossier by eye." if stage_right
            else "Mend the stage first, then review again.",
        )  # fmt: skip
        return
    family = decided.wiring.buffer if any(leg.gate is not None for leg in trace.legs) else None
    limit = known_limit("white")
    low, high = limit.value.low, limit.value.high
    span = wired_white(ColourWiring(decided.style, built.network, family, built.amplifier, decided.wiring.fed))
    assert low is not None and high is not None
    state: Judged = (
        "holds" if low <= span.low and span.high <= high else "fails" if not low <= span.typical <= high else "unknown"
    )
    what = f"White at {end} from the bare pin" if not trace.links else f"White at {end} with the parts as listed"
    pairs = list(_against(lane, decided.wiring, trace))
    wanted = ", ".join(f"{s.typical:g} ohm" for _, s in pairs) or "no part"
    doubt = (
        "A parts list may write its values in a way that is read wrong: look at the line."
        if trace.links
        else "No part brings the bare pin's level down: change levels.colour.style."
    )
    sight.verdict(
        "board.lane-level", lane.subject, "stop",
        {
            "holds": f"{what} lies inside the window.",
            "fails": f"{what} lies outside the window.",
            "unknown": f"{what} may leave the window.",
        },
        state=state, used=used, read=decided.read, seen=_listed(trace), wanted=wanted, place=lane.place, found=span, unit="V",
        low=low, high=high, target=limit.value.typical, limit=limit, doubt="" if state == "holds" else doubt,
    )  # fmt: skip
    off = [(link, want) for link, want in pairs if stage_right and not _is_within(link, want)]
    if off and state != "fails":
        link, want = off[0]
        sight.verdict(
            "board.part-value", lane.subject, "caution", f"{link.name} is not the part that the dossier decided.", state="fails",
            used=used, read=decided.read.fork(), seen=f"{link.ohm.typical if link.ohm else 0:g} ohm", wanted=f"{want.typical:g} ohm",
            place=place_of(sight.graph, lane, link), doubt="Change the parts list, or the part in levels.colour.",
        )  # fmt: skip


def _listed(trace: Trace) -> str:
    """Parts with their values."""
    made = [f"{link.name} {link.ohm.typical:g} ohm" for link in trace.links if link.ohm is not None and link.parts]
    return ", ".join(made) or "no part"


def _against(lane: Lane, decided: ColourWiring, trace: Trace) -> Iterator[tuple[Link, Span]]:
    """Each part beside the one that the dossier decided for its place."""
    net, shape = decided.network, trace.shape
    legs = [leg.link for leg in in_order(trace, lane.pins) if leg.link.parts]
    yield from zip(legs, net.part_ohm, strict=False)
    yield from zip(shape.rungs, net.rung_ohm, strict=False)
    if net.style == "ladder":
        ground, wanted = (shape.terminator if shape.is_ladder else shape.shunt), net.terminator_ohm
    else:
        ground, wanted = shape.shunt, net.load_ohm if decided.amplifier is not None else net.shunt_ohm
    if ground is not None and wanted is not None:
        yield ground, wanted
    if trace.back is not None and decided.amplifier is not None:
        yield trace.back, decided.amplifier.back_ohm


def _is_within(link: Link, want: Span) -> bool:
    """Whether a part's listed value lies within what was decided."""
    return link.ohm is not None and want.low * 0.999 <= link.ohm.typical <= want.high * 1.001
