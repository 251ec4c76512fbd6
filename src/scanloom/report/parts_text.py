"""Parts that a search found, as text and JSON."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.report import parts_documents as d
from scanloom.report.figures import figure
from scanloom.report.sheets import plain_table
from scanloom.stages.levels.figures import channel_figures
from scanloom.stages.levels.search.answer import FoundNetwork, Leg, NoNetwork, PartsProposal
from scanloom.stages.levels.search.request import PartsRequest


def parts_doc(answer: PartsProposal | NoNetwork) -> d.PartsDoc | d.NoPartsDoc:
    """Ranked answers of a search, or that there are none.

    Parameters
    ----------
    answer : PartsProposal or NoNetwork
        What the search found.

    Returns
    -------
    PartsDoc or NoPartsDoc
        For JSON.
    """
    if isinstance(answer, NoNetwork):
        return d.NoPartsDoc(found="nothing", says=answer.says, option=answer.option, proved=answer.proved)
    return d.PartsDoc(
        **_found(answer.answers[0], answer.request),
        objective=answer.request.objective,
        proved=answer.proved,
        bound_v=answer.bound_v,
        most_share=answer.most_share,
        networks=answer.networks,
        searched=answer.searched,
        others=[_found(one, answer.request) for one in answer.answers[1:]],
        trades=[
            d.TradeDoc(
                change=one.change, option=one.option, gain_v=one.gain_v, error_v=one.best.error_v,
                distinct=one.best.distinct, parts=one.best.parts,
            )
            for one in answer.trades
        ],
    )  # fmt: skip


def parts_sheet(answer: PartsProposal) -> RenderableType:
    """Ranked answers of a search.

    Parameters
    ----------
    answer : PartsProposal
        What the search found.

    Returns
    -------
    RenderableType
        For a console.
    """
    best, request = answer.answers[0], answer.request
    table = plain_table("rank", "parts, largest bit first", "error", "white", "values", "parts")
    for rank, one in enumerate(answer.answers, 1):
        legs = ", ".join(map(str, one.legs))
        if one.shunt_ohm is not None:
            legs += f"; shunt {one.shunt_ohm:g}"
        error_v = one.worst_error_v if request.objective == "worst" else one.error_v
        table.add_row(
            str(rank), legs, f"{error_v * 1e3:.2f} mV", figure(one.full_scale_v, "V"), str(one.distinct),
            str(one.parts),
        )  # fmt: skip
    proof = "proved best" if answer.proved else "best found, not proved"
    lines = [f"{rank}: {one.why}" for rank, one in enumerate(answer.answers, 1)]
    lines += [
        f"{proof}; typical error {best.error_v * 1e3:.2f} mV, worst corner {best.worst_error_v * 1e3:.2f} mV",
        f"source resistance {figure(best.source_ohm, 'ohm')}; most current of a pin {figure(best.pin_current_a, 'A')}; "
        f"white draws {figure(best.white_current_a, 'A')}",
    ]
    if request.bits > 1:
        lines.insert(
            len(answer.answers) + 1,
            f"INL {best.inl_lsb:.3f} LSB, DNL {best.dnl_min_lsb:+.3f} to {best.dnl_max_lsb:+.3f} LSB; every step is sure to "
            f"rise with parts up to {best.monotonic_at_percent:.2f} %",
        )
    return Group(table, *(Text(line) for line in lines))


def leg_doc(leg: Leg) -> d.LegDoc:
    """One leg.

    Parameters
    ----------
    leg : Leg
        The leg.

    Returns
    -------
    LegDoc
        For JSON.
    """
    return d.LegDoc(ohm=leg.ohm, how=leg.how)


def _found(one: FoundNetwork, request: PartsRequest) -> d.FoundDoc:
    """One network."""
    return d.FoundDoc(
        legs=[leg_doc(leg) for leg in one.legs],
        shunt_ohm=one.shunt_ohm,
        error_v=one.error_v,
        worst_error_v=one.worst_error_v,
        full_scale_v=one.full_scale_v,
        inl_lsb=one.inl_lsb,
        dnl_min_lsb=one.dnl_min_lsb,
        dnl_max_lsb=one.dnl_max_lsb,
        monotonic_at=one.monotonic_at_percent,
        source_ohm=one.source_ohm,
        pin_current_a=[max(pin.source_a, -pin.sink_a) for pin in channel_figures(one.network(request)).pins],
        pin_worst_a=one.pin_worst_a,
        white_current_a=one.white_current_a,
        distinct=one.distinct,
        parts=one.parts,
        good_share=one.good_share,
        why=one.why,
    )
