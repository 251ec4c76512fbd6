"""What the options of `scanloom levels` say, as the stage takes it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal

from scanloom.cli.door import Refused, asked

if TYPE_CHECKING:
    from scanloom.basis.span import Span
    from scanloom.stages.levels.model import OutputNetwork
    from scanloom.stages.levels.search import JointRequest, PartsRequest

USUAL_MATCH_PERCENT = 5.0
"""How near a shunt brings the source to the cable unless more is asked: a return of 1/40 of what comes back. [%]"""

LEAST_OHM = 22.0
"""Smallest value for a board unless a range is given: branches of syncs are smaller than legs. [ohm]"""

MOST_BOARDS = 10_000_000
"""Boards of a dossier that are made up at most: a minute or so. [1]"""


def output_network(parts: str, options: dict[str, str]) -> OutputNetwork:
    """Output network of parts that were typed.

    Parameters
    ----------
    parts : str
        The parts.
    options : dict
        Text of each option by its name.

    Returns
    -------
    OutputNetwork
        The network.

    Raises
    ------
    Refused
        If an option cannot be read.
    """
    from scanloom.stages.levels.model import OutputNetwork

    percent = _tolerance(options, 0.0)
    ladder = re.fullmatch(r"(.*)x(\d+)", parts)
    listed, count = (ladder[1], ladder[2]) if ladder else (parts, "")
    values = [_part(word, percent) for word in listed.split(",")]
    high = _span(options, "--pin", "ohm", "0 ohm")
    low = _span(options, "--pin-low", "ohm", "") if "--pin-low" in options else high
    rail_v, load_ohm = _span(options, "--rail", "V", "3.3 V"), _span(options, "--load", "ohm", "75 ohm")
    if options.get("--style") == "ladder":
        if len(values) != 2 or not count.isdigit() or not 1 <= int(count) <= 12:
            raise Refused(
                "--parts", f"{parts!r} is no ladder; R,2R and the number of bits are allowed; write 180,360x8"
            )
        rung, leg = values
        bits = int(count)
        return asked(
            "--parts",
            lambda: OutputNetwork(
                "ladder", (leg,) * bits, high, low, rail_v, load_ohm, rung_ohm=(rung,) * (bits - 1), terminator_ohm=leg
            ),
        )
    if count:
        raise Refused("--parts", f"{parts!r}: a number of bits goes with --style ladder; list one part a bit")
    kind: Literal["series", "weighted"] = "series" if len(values) == 1 else "weighted"
    return asked("--parts", lambda: OutputNetwork(kind, tuple(values), high, low, rail_v, load_ohm))


def parts_request(bits: int, options: dict[str, str]) -> PartsRequest:
    """Request for the parts of one channel.

    Parameters
    ----------
    bits : int
        Colour bits. [1]
    options : dict
        Text of each option by its name.

    Returns
    -------
    PartsRequest
        The request.

    Raises
    ------
    Refused
        If an option cannot be read, or options contradict each other.
    """
    from scanloom.basis import units
    from scanloom.stages.levels.search import PartsRequest

    made: dict[str, Any] = _values(options)
    for name, field in (("--pin", "pin_high_ohm"), ("--pin-low", "pin_low_ohm"), ("--load", "load_ohm")):
        if name in options:
            made[field] = _span(options, name, "ohm", "")
    if "--rail" in options:
        made["rail_v"] = _span(options, "--rail", "V", "")
    if "--pin-current" in options:
        made["pin_most_a"] = float(asked("--pin-current", lambda: units.read(options["--pin-current"], "A")))
    if "--match" in options:
        made["match_percent"] = float(asked("--match", lambda: units.read(options["--match"], "%")))
    elif "--shunt" in options:
        made["match_percent"] = USUAL_MATCH_PERCENT
    counts = {"--distinct": "distinct_most", "--parts-most": "parts_most"}
    for name, field in {**counts, "--answers": "answers", "--boards": "boards", "--seed": "seed"}.items():
        if name in options:
            made[field] = int(options[name])
    for name in ("--boards", "--seed"):
        if name in options and options.get("--objective") != "yield":
            raise Refused(name, "it goes with --objective yield; add that, or leave it out")
    try:
        return PartsRequest(bits, **made)
    except ValueError as error:
        raise Refused(_blamed(str(error)), str(error)) from None


def joint_wish(options: dict[str, str], distinct_most: int) -> JointRequest:
    """What a board's channels are to share; its channels are still to be filled in.

    A survey judges white over all copies of a board. So the worst corner is made best here, and white is aimed at the
    middle of its window, not at its target, which lies nearer to the lower edge.

    Parameters
    ----------
    options : dict
        Text of each option by its name.
    distinct_most : int
        Shared values unless an option says otherwise. [1]

    Returns
    -------
    JointRequest
        A request with one channel that stands in for those of the board.

    Raises
    ------
    Refused
        If an option cannot be read, or options contradict each other.
    """
    from scanloom.stages.levels.search import JointChannel, JointRequest, usual_window

    least_v, _, most_v = usual_window()
    usual: dict[str, Any] = {"white_v": (least_v + most_v) / 2.0, "objective": "worst", "least_part_ohm": LEAST_OHM}
    made = usual | _values(options)
    if "--distinct" in options:
        distinct_most = int(options["--distinct"])
    channel = JointChannel("any", 1)
    try:
        return JointRequest((channel,), distinct_most=distinct_most, **made)
    except ValueError as error:
        raise Refused(_blamed(str(error)), str(error)) from None


def boards_asked(options: dict[str, str]) -> tuple[int | None, int]:
    """How many boards of a dossier are to be made up, and which.

    Parameters
    ----------
    options : dict of str to str
        Options given, with their values.

    Returns
    -------
    tuple
        Boards, None where none are asked for, and the seed. [1]

    Raises
    ------
    Refused
        If a number is out of its bounds, or a seed stands without boards.
    """
    if "--boards" not in options:
        if "--seed" in options:
            raise Refused("--seed", "it goes with --boards; add that, or leave it out")
        return None, 1
    boards, seed = int(options["--boards"]), int(options.get("--seed", "1"))
    if not 1 <= boards <= MOST_BOARDS:
        raise Refused("--boards", f"{boards}; allowed are 1 to {MOST_BOARDS}; write 100000")
    if not 0 <= seed < 1 << 63:
        raise Refused("--seed", f"{seed}; allowed are 0 up to 2^63; write 1")
    return boards, seed


def _blamed(says: str) -> str:
    """The option that a refusal speaks of."""
    words = {
        "pin_high_ohm": "--pin", "pin_low_ohm": "--pin-low", "load_ohm": "--load", "rail": "--rail", "white": "--white",
        "stock_ohm": "--stock", "stock list is empty": "--stock", "match_percent": "--match", "pin_most_a": "--pin-current",
        "tolerance": "--tolerance", "parts for": "--parts-most", "distinct values": "--distinct", "shared value": "--distinct",
        "answers": "--answers", "boards": "--boards", "objective": "--objective", "no value of": "--range",
        "values from": "--range", "least_part_ohm": "--range", "most_part_ohm": "--range",
    }  # fmt: skip
    return next((option for word, option in words.items() if word in says.partition(";")[0]), "--bits")


def _values(options: dict[str, str]) -> dict[str, Any]:
    """What one channel and a board are asked alike: values, white, tolerance, objective."""
    if "--series" in options and "--stock" in options:
        raise Refused("--stock", "--series is given too; allowed is one of them; leave one out")
    made: dict[str, Any] = {}
    if "--series" in options:
        made["series"] = options["--series"]
    if "--stock" in options:
        words = [word for word in options["--stock"].split(",") if word.strip()]
        made["stock_ohm"] = tuple(_part(word, 0.0, "--stock").typical for word in words)
    if "--range" in options:
        span = _span(options, "--range", "ohm", "")
        made["least_part_ohm"], made["most_part_ohm"] = span.low, span.high
    if "--single" in options:
        made["pairs"] = False
    if "--white" in options:
        span = _span(options, "--white", "V", "")
        made["white_low_v"], made["white_v"], made["white_high_v"] = span.low, span.typical, span.high
    if "--tolerance" in options:
        made["tolerance_percent"], made["guaranteed"] = _tolerance(options, 0.0), True
    if "--objective" in options:
        made["objective"] = options["--objective"]
    return made


def _tolerance(options: dict[str, str], without: float) -> float:
    """Tolerance of the parts, in percent."""
    from scanloom.basis import units
    from scanloom.basis.span import Span

    if "--tolerance" not in options:
        return without
    percent = float(asked("--tolerance", lambda: units.read(options["--tolerance"], "%")))
    asked("--tolerance", lambda: Span.exact(1.0).relative(percent))
    return percent


def _part(word: str, percent: float, argument: str = "--parts") -> Span:
    """One resistor with its tolerance."""
    from scanloom.basis.span import Span
    from scanloom.basis.typed_amounts import read_part

    return asked(argument, lambda: Span.exact(float(read_part(word))).relative(percent))


def _span(options: dict[str, str], name: str, unit: str, without: str) -> Span:
    """A quantity with bounds from an option."""
    from scanloom.basis import units

    return asked(name, lambda: units.read_span(options.get(name, without), unit)).span()
