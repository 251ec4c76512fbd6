"""The tangle: pins as met around the module against the connectors along the edge, crossings counted."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.dossier.plan import Plan
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.survey import RigSurvey


@record
class _Track:
    """One pin and where it goes."""

    pin: int
    connector: str
    channel: str
    boot: str


def lane_tangle(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """Tracks from the module to the connectors.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for the board and the chip.

    Returns
    -------
    Drawing or None
        None where no pins or no walking order are stated.
    """
    around = _around(plan)
    wanted = _tracks(plan)
    if not wanted or around is None or any(track.pin not in around for track in wanted):
        return None
    order, crossings = best_cut(around, [track.pin for track in wanted])
    boots = sum(bool(track.boot) for track in wanted)
    result = (
        "No two colour tracks cross."
        if not crossings
        else f"{crossings} crossing{'s' if crossings > 1 else ''} of colour tracks."
    ) + (f" {boots} of these pins {'have' if boots > 1 else 'has'} a role while the chip starts." if boots else "")
    lanes = {pin: lane.bit for lane in (rig.lanes.lanes if rig.lanes else ()) for pin in lane.pins}
    return drawing(
        "lane-tangle",
        "Pins and connectors",
        "Above, the pins in the order in which they are met around the module; below, the connectors from left to right, plug "
        "side towards you. A dot above a pin marks a role at the start.",
        result,
        lambda width: _draw(width, wanted, order),
        Table(
            "Where each pin goes",
            ("Pin#", "Lane#", "Connector", "Colour", "At the start"),
            tuple(
                (f"{t.pin}", f"{lanes[t.pin]}" if t.pin in lanes else "none", t.connector, t.channel, t.boot or "free") for t in wanted
            ),
        ),
    )  # fmt: skip


def best_cut(around: Sequence[int], wanted: Sequence[int]) -> tuple[tuple[int, ...], int]:
    """Walking order of the wanted pins, begun where it crosses the wanted order least.

    Parameters
    ----------
    around : sequence of int
        All pins in walking order. [1]
    wanted : sequence of int
        Pins in the order of the connectors, each on the ring. [1]

    Returns
    -------
    tuple
        The pins in walking order, and pairs out of order. [1]
    """
    place = {pin: number for number, pin in enumerate(around)}
    ring = sorted(wanted, key=lambda pin: place[pin])
    goal = {pin: number for number, pin in enumerate(wanted)}
    best: tuple[int, tuple[int, ...]] | None = None
    for cut in range(len(ring)):
        order = (*ring[cut:], *ring[:cut])
        goals = [goal[pin] for pin in order]
        count = sum(a > b for i, a in enumerate(goals) for b in goals[i + 1 :])
        if best is None or count < best[0]:
            best = (count, order)
    assert best is not None
    return best[1], best[0]


def _around(plan: Plan) -> tuple[int, ...] | None:
    """Walking order: the maker's, else the handbook's."""
    board = plan.dossier.board
    if board is not None and board.around is not None:
        return board.around.value
    if plan.chip is not None and plan.chip.table.around is not None:
        return plan.chip.table.around.pins
    return None


def _tracks(plan: Plan) -> list[_Track]:
    """Colour pins in the order of the connectors."""
    made = []
    for connector in plan.connectors:
        for channel in ("red", "green", "blue"):
            stated = getattr(connector, channel)
            for pin in () if stated is None else stated.value:
                made.append(_Track(pin, connector.name, channel, _boot(plan, pin)))
    return made


def _boot(plan: Plan, pin: int) -> str:
    """What the chip wants of a pin while it starts."""
    if plan.chip is None:
        return ""
    return ", ".join(row.boot for row in plan.chip.pin_rows(pin) if row.boot is not None)


def _draw(width: float, wanted: list[_Track], order: Sequence[int]) -> tuple[str, float]:
    """Two rows of places and the tracks between them."""
    step = width / len(wanted)
    top, bottom = 46.0, 176.0
    above = {pin: step * (number + 0.5) for number, pin in enumerate(order)}
    out: list[str] = []
    for number, track in enumerate(wanted):
        x1, x2 = above[track.pin], step * (number + 0.5)
        lean = 24.0 * (number % 4)  # so that three tracks do not cross in one point
        bend = f"C{x1:.1f} {top + 20 + lean:.1f} {x2:.1f} {bottom - 90 + lean:.1f}"
        out.append(svg.path(f"M{x1:.1f} {top:.1f}{bend} {x2:.1f} {bottom:.1f}", f"lane {track.channel}"))
    tall = step < 22  # two digits no longer fit side by side
    for number, pin in enumerate(order):
        x = above[pin]
        out.append(svg.rect(x - min(step * 0.42, 15), 24, min(step * 0.84, 30), 22, "tag"))
        out.append(svg.text(x, 39 if not (tall and number % 2) else 18, f"{pin}", "m bo"))
        if next(t for t in wanted if t.pin == pin).boot:
            out.append(svg.element("circle", cx=x, cy=8 if not tall else 4, r=4, class_="boot"))
    for number, track in enumerate(wanted):
        x = step * (number + 0.5)
        out.append(svg.rect(x - min(step * 0.42, 15), bottom, min(step * 0.84, 30), 20, "part"))
        out.append(svg.text(x, bottom + 14, track.channel[0].upper(), "m"))
    for name in dict.fromkeys(track.connector for track in wanted):
        places = [n for n, track in enumerate(wanted) if track.connector == name]
        left, right = step * places[0] + 3, step * (places[-1] + 1) - 3
        out.append(svg.path(f"M{left:.1f} {bottom + 24:.1f}v5H{right:.1f}v-5", "w"))
        out.append(svg.text((left + right) / 2, bottom + 44, svg.cut(name, right - left + 4), "m bo"))
    return "".join(out), bottom + 52
