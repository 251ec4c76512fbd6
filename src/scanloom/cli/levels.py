"""`scanloom levels`: of given parts, of parts to be found, or of all rigs of a dossier."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write

if TYPE_CHECKING:
    from rich.progress import Progress

    from scanloom.basis.verdict import Patch
    from scanloom.dossier.reading import Reading
    from scanloom.report.parts_documents import SyncBranchDoc
    from scanloom.stages.lanes import LaneMap
    from scanloom.stages.levels.edges_plan import DisplayEdges
    from scanloom.stages.levels.lot_report import LevelTolerance
    from scanloom.stages.levels.search import JointProposal
    from scanloom.survey import Survey

Flag = Parameter(negative="")
_BOARD_VALUES = 2
"""Shared values that a board is searched with unless more are allowed. [1]"""


def levels(
    dossier: Path | None = None,
    *,
    parts: str | None = None,
    bits: int | None = None,
    series: Literal["E12", "E24", "E48", "E96", "E192"] | None = None,
    stock: str | None = None,
    range_: Annotated[str | None, Parameter(name="--range")] = None,
    single: Annotated[bool, Flag] = False,
    distinct: int | None = None,
    parts_most: int | None = None,
    pin: str | None = None,
    pin_low: str | None = None,
    rail: str | None = None,
    load: str | None = None,
    white: str | None = None,
    style: Literal["weighted", "ladder"] | None = None,
    tolerance: str | None = None,
    shunt: Annotated[bool, Flag] = False,
    match: str | None = None,
    pin_current: str | None = None,
    objective: Literal["nominal", "worst", "yield"] | None = None,
    answers: int | None = None,
    boards: int | None = None,
    seed: int | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Compute the levels of given parts (--parts), find the best parts (--bits), or do both for a DOSSIER.

    Parameters
    ----------
    dossier
        Show the levels of each rig of this dossier, and propose one set of values for all its channels and syncs.
    parts
        Given resistors, most significant first, such as 510,1k,2k,3.9k; for a ladder R,2R and the bits as 180,360x8.
    bits
        Find the best parts for a channel of 1 to 6 bits, each leg to the connector.
    series
        Series of values to choose from; E24 if none is named.
    stock
        Values at hand instead of a series, such as 390,470,1k.
    range_
        Smallest and largest value for a leg, such as "100 ohm .. 10 kohm".
    single
        Let no leg be two equal parts in parallel or in series.
    distinct
        Most distinct values; for a channel any number without it, for a dossier 2.
    parts_most
        Most parts.
    pin
        Output resistance of a pin, such as "25 ohm" or "20 .. 40 ohm"; "0 ohm" without it.
    pin_low
        Output resistance of a pin driven low, where it differs.
    rail
        Supply of the pins; "3.3 V" without it.
    load
        Termination in the display; "75 ohm" without it.
    white
        Least, wanted and most level of white, such as "0.665 .. 0.7 .. 0.77 V".
    style
        With --parts: each part to the connector, or a ladder of two values.
    tolerance
        Tolerance of the parts, such as "1 %"; in a search every step must then be sure to rise at it. Without it a search
        reckons with 1 % where a corner counts, and asks steps to rise with typical values.
    shunt
        Allow a part from the connector to ground, for a source that matches the cable within 5 %.
    match
        How near the source has to come to 75 ohm, such as "2 %"; allows a shunt.
    pin_current
        Most current of a pin, such as "8 mA", every element at its worst.
    objective
        Make best the typical error, the error at the worst corner, or the share of good boards.
    answers
        Answers wanted, best first.
    boards
        Boards to make up: for --objective yield; of a dossier's rigs, to tell how many are good and what moves white.
    seed
        Which boards these are.
    json
        Print JSON.

    Returns
    -------
    int
        0, or 1 when no parts meet the request, or 2 when it cannot be read.
    """
    given = {
        "--series": series, "--stock": stock, "--range": range_, "--single": single or None, "--distinct": distinct,
        "--parts-most": parts_most, "--pin": pin, "--pin-low": pin_low, "--rail": rail, "--load": load, "--white": white,
        "--style": style, "--tolerance": tolerance, "--shunt": shunt or None, "--match": match,
        "--pin-current": pin_current, "--objective": objective, "--answers": answers, "--boards": boards, "--seed": seed,
    }  # fmt: skip
    options = {name: str(value) for name, value in given.items() if value is not None}

    def work() -> int:
        asks = [
            name for name, value in (("DOSSIER", dossier), ("--parts", parts), ("--bits", bits)) if value is not None
        ]
        if len(asks) != 1:
            both = " and ".join(asks) if asks else "nothing"
            raise Refused(
                "DOSSIER, --parts, --bits",
                f"{both} given; allowed is one of them: a dossier, parts to compute, or bits to find parts for; add --bits 4",
            )
        if parts is not None:
            return _compute(parts, options, json)
        if bits is not None:
            return _search(bits, options, json)
        assert dossier is not None
        return _board(dossier, options, json)

    return answer("levels", json, work)


def _only(options: dict[str, str], asked_by: str, *allowed: str) -> None:
    """Refuse options that do not go with what is asked."""
    for name in options:
        if name not in allowed:
            raise Refused(name, f"it does not go with {asked_by}; {', '.join(allowed)} do; leave it out")


def _compute(parts: str, options: dict[str, str], json: bool) -> int:
    """Levels of given parts."""
    from scanloom.cli.given import output_network

    _only(options, "--parts", "--pin", "--pin-low", "--rail", "--load", "--style", "--tolerance")
    network = output_network(parts, options)
    if json:
        from scanloom.report.json_text import envelope
        from scanloom.report.level_sums import levels_doc

        write(envelope("levels", levels_doc(network)))
    else:
        from scanloom.report.sheets import levels_sheet

        console().print(levels_sheet(network))
    return 0


def _search(bits: int, options: dict[str, str], json: bool) -> int:
    """Parts of one channel."""
    from scanloom.cli.given import parts_request
    from scanloom.report.parts_text import parts_doc, parts_sheet
    from scanloom.stages.levels.search import NoNetwork, propose_parts

    if "--style" in options:
        raise Refused("--style", "it goes with --parts; a search finds legs to the connector; leave it out")
    request = parts_request(bits, options)
    with _patience():
        found = propose_parts(request)
    if json:
        from scanloom.report.json_text import envelope

        write(envelope("levels", parts_doc(found)))
    elif isinstance(found, NoNetwork):
        print(found.says[:1].upper() + found.says[1:] + ".")
    else:
        console().print(parts_sheet(found))
    return 1 if isinstance(found, NoNetwork) else 0


def _board(dossier: Path, options: dict[str, str], json: bool) -> int:
    """Levels of a dossier, and one set of values for all of it."""
    from scanloom.cli.given import boards_asked, joint_wish
    from scanloom.dossier.reading import Reading
    from scanloom.formats.dossier_file import read_dossier
    from scanloom.report.board_levels_text import board_doc, board_sheet
    from scanloom.report.board_sync_text import try_line
    from scanloom.report.parts_documents import CapDoc
    from scanloom.stages.levels.search import board_parts, joint_patches, propose_board
    from scanloom.survey import survey_plan

    _only(
        options,
        "DOSSIER",
        "--series",
        "--stock",
        "--range",
        "--single",
        "--distinct",
        "--white",
        "--tolerance",
        "--objective",
        "--boards",
        "--seed",
    )
    boards, seed = boards_asked(options)
    wish = joint_wish(options, _BOARD_VALUES)
    file = read_dossier(dossier, str(dossier))
    survey = survey_plan(file.plan)
    rigs = [
        (Reading(file.plan, rig), one.lanes)
        for rig, one in zip(file.plan.rigs, survey.rigs, strict=True)
        if one.lanes is not None
    ]
    tolerances: dict[str, LevelTolerance] = {}
    if boards is not None:
        from scanloom.stages.levels.lot_report import measure_tolerance

        tolerances = {
            one.name: measure_tolerance(one.levels, boards, seed)
            for one in survey.rigs
            if one.levels is not None and one.levels.channels
        }
    board = board_parts(rigs, wish)
    says = list(board.left_out)
    joint: JointProposal | None = None
    caps: list[CapDoc] = []
    patches: tuple[Patch, ...] = ()
    if not rigs:
        says.append(
            "No rig has a map of lanes, so there is no channel to search for; scanloom check says what it waits on."
        )
    if board.request is not None:
        with _patience(), _waiting() as go_on:
            joint, said = propose_board(board.request, go_on)
        says += said
        if joint is not None:
            patches, unsaid = joint_patches(board, joint)
            says += unsaid
            caps = [
                CapDoc(name=cap.name, drawn_a=drawn, most_a=cap.most_a)
                for cap, drawn in zip(board.request.caps, joint.caps_a, strict=True)
            ]
    edges, branch = _sync_edges(file.shown, rigs, survey)
    if json:
        from scanloom.report.json_text import envelope

        write(envelope("levels", board_doc(file.shown, survey, joint, caps, patches, says, tolerances, edges, branch)))
    else:
        console().print(
            board_sheet(
                file.plan.dossier.dossier.title or file.shown, survey, joint, caps, says, tolerances, edges, branch
            )
        )
        if patches:
            print(f"Next: {try_line(file.shown, patches)}")
    return 0 if joint is not None else 1


def _sync_edges(
    file: str, rigs: Sequence[tuple[Reading, LaneMap]], survey: Survey
) -> tuple[dict[str, tuple[DisplayEdges, ...]], SyncBranchDoc | None]:
    """Edges of the syncs solved in full, and the branch part that makes them cleanest."""
    from scanloom.report.board_sync_text import sync_branch_doc
    from scanloom.stages.levels.edges_plan import measure_sync_edges, propose_sync_branch
    from scanloom.stages.levels.network import Missing

    found: dict[str, tuple[DisplayEdges, ...]] = {}
    levels = {rig.name: rig.levels for rig in survey.rigs}
    for reading, _ in rigs:
        plan = levels.get(reading.rig_name)
        with suppress(Missing):  # scanloom check says what is missing
            found[reading.rig_name] = measure_sync_edges(reading, () if plan is None else plan.channels)
    proposed = None
    if rigs:
        with suppress(Missing):
            proposed = propose_sync_branch(rigs[0][0])
    return found, None if proposed is None else sync_branch_doc(file, proposed[0].value, proposed[1])


@contextmanager
def _patience() -> Iterator[None]:
    """On a terminal, say why the first search on a machine takes long: its sums are compiled then, and kept."""
    from threading import Timer

    words = "The sums of the search are compiled for this machine, once; that takes some seconds."
    timer = Timer(2.0, lambda: print(words, file=sys.stderr))
    if sys.stderr.isatty():
        timer.start()
    try:
        yield
    finally:
        timer.cancel()


@contextmanager
def _waiting() -> Iterator[Callable[[float], bool]]:
    """What a joint search tells its progress; on a terminal a bar shows it once the search takes its time."""
    import time

    began = time.monotonic()
    bar: list[Progress] = []

    def go_on(share: float) -> bool:
        """Show the share that is done; the search always goes on."""
        if not bar and sys.stderr.isatty() and time.monotonic() - began > 0.5:
            from scanloom.cli.pins import search_bar

            bar.append(search_bar("sets of values", 1.0))
        if bar:
            bar[0].update(bar[0].task_ids[0], completed=share)
        return True

    try:
        yield go_on
    finally:
        for one in bar:
            one.stop()
