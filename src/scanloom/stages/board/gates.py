"""Buffers and amplifiers on the board: which input drives which output, and what else of them must be tied."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scanloom.basis.record import record
from scanloom.dossier.model import Part
from scanloom.stages.board.graph import PinGraph

# Pin layouts of the common logic functions, output to input: from memory, the same in every family.
GATES: dict[str, dict[str, str]] = {
    "125": {"3": "2", "6": "5", "8": "9", "11": "12"},
    "244": {"18": "2", "16": "4", "14": "6", "12": "8", "9": "11", "7": "13", "5": "15", "3": "17"},
    "541": {"18": "2", "17": "3", "16": "4", "15": "5", "14": "6", "13": "7", "12": "8", "11": "9"},
    "34": {"2": "1", "4": "3", "6": "5", "8": "9", "10": "11", "12": "13"},
    "126": {"3": "2", "6": "5", "8": "9", "11": "12"},
    "1G125": {"4": "2"},
    "1G34": {"4": "2"},
    "2G125": {"6": "2", "3": "5"},
    "2G34": {"6": "1", "4": "3"},
    "245": {"18": "2", "17": "3", "16": "4", "15": "5", "14": "6", "13": "7", "12": "8", "11": "9"},
    **{key: {"2": "1", "4": "3", "6": "5", "8": "9", "10": "11", "12": "13"} for key in ("07", "17")},
    **{key: {"4": "2"} for key in ("1G126", "1G17", "1G07")},
    **{key: {"6": "1", "4": "3"} for key in ("2G17", "2G07")},
    "1T45": {"4": "3"},
}
"""Input pin of each output pin, by function of the part."""
# Enables, directions and supply pins of the same functions: from memory.
ENABLES: dict[str, dict[str, tuple[str, ...]]] = {
    "125": {"3": ("1",), "6": ("4",), "8": ("10",), "11": ("13",)},
    "244": {**dict.fromkeys(("18", "16", "14", "12"), ("1",)), **dict.fromkeys(("9", "7", "5", "3"), ("19",))},
    "541": dict.fromkeys(("18", "17", "16", "15", "14", "13", "12", "11"), ("1", "19")),
    "126": {"3": ("1",), "6": ("4",), "8": ("10",), "11": ("13",)},
    "1G125": {"4": ("1",)},
    "1G126": {"4": ("1",)},
    "2G125": {"6": ("1",), "3": ("7",)},
    "245": dict.fromkeys(("18", "17", "16", "15", "14", "13", "12", "11"), ("19",)),
}
"""Enable pins of each output pin."""
ON_WHEN_HIGH = ("126", "1G126")
"""Functions whose enables switch on when high; those of all others when low."""
DIRECTIONS = {"245": "1", "1T45": "5"}
"""Pin that turns a part round: high, it drives as `GATES` has it; low, the other way."""
SUPPLIES = {
    "125": ("7", "14"), "126": ("7", "14"), "244": ("10", "20"), "541": ("10", "20"), "34": ("7", "14"),
    "1G125": ("3", "5"), "1G34": ("3", "5"), "2G125": ("4", "8"), "2G34": ("2", "5"),
    "1T45": ("2", "1"), "245": ("10", "20"), "07": ("7", "14"), "17": ("7", "14"), **dict.fromkeys(("1G126", "1G17", "1G07"), ("3", "5")),
    **dict.fromkeys(("2G17", "2G07"), ("2", "5")),
}  # fmt: skip
"""Ground pin and supply pin."""
_GUESSED = ("125", "244", "541", "34", "1G125", "2G34")
_FAMILY = r"(?:A(?:C|HC|LV|LVC|U[CP]|VC|BT)T?|HCT?|LV[CT]?H?|VHCT?|LS|ALS|AS|S|F|BCT)"  # letters of logic families: from memory
_NAMES = "|".join(sorted(GATES, key=len, reverse=True))
_LOGIC = re.compile(rf"74{_FAMILY}?-?({_NAMES})(?!\d)")
_FUNCTION = re.compile(rf"(?:74{_FAMILY}?|(?<![A-Z0-9]){_FAMILY})-?({_NAMES})(?!\d)|^({_NAMES})$")
_INPUT = re.compile(r"(\d*)(?:A|D|IN|INPUT|\+IN|IN\+|VIN)[_.]?(\d*)\+?")
_OUTPUT = re.compile(r"(\d*)(?:Y|Q|O|OUT|OUTPUT|VOUT)[_.]?(\d*)")


@record
class Gate:
    """One buffer or amplifier of a part.

    Parameters
    ----------
    part : str
        The part.
    into : str
        Its input pin.
    out : str
        Its output pin.
    amplifies : bool
        Whether it is an amplifier.
    enables : tuple of str
        Pins that switch it on.
    on_when_high : bool
        Whether they do so when high.
    """

    part: str
    into: str
    out: str
    amplifies: bool = False
    enables: tuple[str, ...] = ()
    on_when_high: bool = False


@record
class Gates:
    """All buffers and amplifiers that can be told.

    Parameters
    ----------
    by_output : Mapping
        Gate of each net that an output is on.
    supplies : Mapping
        Ground pin and supply pin of parts whose layout is known.
    guessed : tuple of str
        Parts whose layout was told from the resistors at their outputs.
    unknown : tuple of str
        Parts of which no file tells which input drives which output.
    parts : tuple of str
        All buffers and amplifiers.
    absent : tuple of str
        Those that the dossier names and that are on no net, or marked as not fitted.
    """

    by_output: Mapping[str, Gate]
    supplies: Mapping[str, tuple[str, str]]
    guessed: tuple[str, ...]
    unknown: tuple[str, ...]
    parts: tuple[str, ...]
    absent: tuple[str, ...] = ()

    def lacks(self, parts: tuple[str, ...]) -> str:
        """What to state so that parts can be followed.

        Parameters
        ----------
        parts : tuple of str
            Parts of `unknown`.

        Returns
        -------
        str
            A sentence.
        """
        names = " and ".join(parts)
        return (
            f'Name the pins of {names} in board.parts, such as {parts[0]} = {{ is = "buffer", pins = {{ 2 = "1A", 3 = "1Y" }} }}, '
            "or give it its function as value in the parts list, such as 74LVC125."
        )


def gates_of(graph: PinGraph, stated: Mapping[str, Part]) -> Gates:
    """Buffers and amplifiers of a board.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.
    stated : Mapping
        What the dossier says of parts.

    Returns
    -------
    Gates
        Those that the dossier names, and logic that the parts list names by its function.
    """
    named = {name: "amplifier" in part.is_ for name, part in stated.items() if _drives(part.is_)}
    absent = tuple([name for name in named if not _is_there(graph, graph.part(name))])
    kinds = {graph.part(name): amplifies for name, amplifies in named.items() if name not in absent}
    others = {graph.part(name) for name in stated}
    for part in graph.parts:
        line = graph.line(part)
        if part not in others and line is not None and line.fitted and _LOGIC.search(line.value_text.upper()):
            kinds.setdefault(part, False)
    by_output: dict[str, Gate] = {}
    supplies: dict[str, tuple[str, str]] = {}
    unknown, guessed = [], []
    for part, amplifies in kinds.items():
        table: Mapping[str, str] = _named(graph, part)
        enables: Mapping[str, tuple[str, ...]] = {}
        name = ""
        if not table and not amplifies:
            name, by_guess = _function(graph, part)
            table = _turned(graph, part, name)
            enables = ENABLES.get(name, {}) if table == GATES.get(name) else _for_all(name, table)
            if name:
                supplies[part] = (SUPPLIES[name][0], SUPPLIES[name][1])
                guessed.extend([part] if by_guess else [])
        else:
            enables = _named_enables(graph, part, table)
        high = (name or _by_value(graph, part)) in ON_WHEN_HIGH  # pins called OE do not tell their sense
        if not table:
            unknown.append(part)
        for out, into in table.items():
            net = graph.nets.get((part, out), "")
            if net:
                by_output[net] = Gate(part, into, out, amplifies, enables.get(out, ()), high)
    return Gates(by_output, supplies, tuple(guessed), tuple(unknown), tuple(kinds), absent)


def _is_there(graph: PinGraph, part: str) -> bool:
    """Whether a part is on the board, and not marked as one that stays off it."""
    line = graph.line(part) if part else None
    return bool(part) and (line is None or line.fitted)


def _drives(says: str) -> bool:
    """Whether the dossier calls a part a buffer or an amplifier."""
    return "buffer" in says or "amplifier" in says


def _named(graph: PinGraph, part: str) -> dict[str, str]:
    """Input pin of each output pin by the names of the pins: A1 and Y1, 1A and 1Y, IN1 and OUT1, or one pair alone."""
    inputs: dict[str, str] = {}
    outputs: dict[str, str] = {}
    for pin in graph.parts[part]:
        name = graph.functions.get(pin, "").upper().strip()
        for pattern, found in ((_INPUT, inputs), (_OUTPUT, outputs)):
            if (match := pattern.fullmatch(name)) and not (match[1] and match[2]):
                found.setdefault(match[1] or match[2], pin[1])
    return {pin: inputs[number] for number, pin in outputs.items() if number in inputs}


def _named_enables(graph: PinGraph, part: str, table: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Enables that are on when low, by their names: OE, 1OE, OE2; one without a number, or in a part with fewer of them, is for all."""
    found: dict[str, str] = {}
    for pin in graph.parts[part]:
        name = graph.functions.get(pin, "").upper().strip("/~#! _").removeprefix("N")
        if match := re.fullmatch(r"(\d*)OE[_.]?(\d*)", name):
            found[match[1] or match[2]] = pin[1]
    if len(found) == len(table):
        numbers = _numbers(graph, part, table)
        return {out: (found[number],) for out, number in numbers.items() if number in found}
    # two enables of eight gates may stand side by side or for four each; only those that are for all are sure
    return dict.fromkeys(table, (found[""],)) if "" in found else {}


def _numbers(graph: PinGraph, part: str, table: Mapping[str, str]) -> dict[str, str]:
    """Number of each output by its name."""
    made = {}
    for out in table:
        match = _OUTPUT.fullmatch(graph.functions.get((part, out), "").upper().strip())
        made[out] = (match[1] or match[2]) if match else ""
    return made


def _turned(graph: PinGraph, part: str, name: str) -> Mapping[str, str]:
    """Layout of a function the way its direction pin turns it; none where that pin is on neither a supply nor ground."""
    table = GATES.get(name, {})
    if name not in DIRECTIONS:
        return table
    net = graph.nets.get((part, DIRECTIONS[name]), "")
    held = {net, *(behind for _, behind in graph.beyond(net))} if net else set()
    if held & graph.rails and not held & graph.grounds:
        return table
    return {into: out for out, into in table.items()} if held & graph.grounds and not held & graph.rails else {}


def _for_all(name: str, table: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Enables of a part that was turned round: those that all its outputs share."""
    shared = set(ENABLES.get(name, {}).values())
    return dict.fromkeys(table, shared.pop()) if len(shared) == 1 else {}


def _function(graph: PinGraph, part: str) -> tuple[str, bool]:
    """Function of a buffer by the digits of its value or the resistors at its outputs, and whether by the latter."""
    said = _by_value(graph, part)
    if said:
        numbers = [int(pin) for _, pin in graph.parts[part] if pin.isdigit()]
        return (said, False) if max(numbers, default=0) in _sizes(said) else ("", False)
    pins = {pin: graph.nets[(part, pin)] for _, pin in graph.parts[part]}
    driven = {
        pin for pin, net in pins.items()
        if net and net != graph.ground and net not in graph.rails and len(graph.beyond(net)) > 0
        and not any(name == part and other != pin for name, other in graph.pins.get(net, ()))
    }  # fmt: skip
    fit = sorted(
        ((len(driven & set(GATES[name])), name) for name in _GUESSED if len(pins) in _sizes(name)), reverse=True
    )  # fmt: skip
    sure = bool(fit) and 3 * fit[0][0] >= 2 * len(driven) > 0 and (len(fit) == 1 or fit[1][0] < fit[0][0])
    return (fit[0][1], True) if sure else ("", False)


def _by_value(graph: PinGraph, part: str) -> str:
    """Function that the value of a part names; empty where it names none."""
    line = graph.line(part)
    text = (line.value_text if line is not None else "") or graph.placed_values.get(part, "")
    said = _FUNCTION.search(text.upper())
    return (said[1] or said[2]) if said else ""


def _sizes(name: str) -> tuple[int, ...]:
    """Pins that a package with the layout of a function has; one more is a pad for heat."""
    table = GATES[name]
    most = max(int(pin) for pin in (*table, *table.values(), *SUPPLIES[name], DIRECTIONS.get(name, "1")))
    return (5, 6) if most <= 6 else (most, most + 1)
