"""Every check of the program, found by reading its source: code, weights, sentences, and the rows its limits are from."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from pages_source import FunctionNode, Module, argument, called, parameters
from pages_texts import Choices, Reader, joined

ORDER = ("holds", "fails", "unknown")
WEIGHTS = ("stop", "caution", "note")


@dataclass
class Check:
    """What the source says about one code."""

    code: str
    weights: set[str] = field(default_factory=set)
    said: dict[str, set[str]] = field(
        default_factory=dict
    )  # sentence: states it may stand for, none where numbers decide
    rows: set[tuple[str, str]] = field(
        default_factory=set
    )  # table of the handbook and row, or "chip" and table of its record
    places: list[str] = field(default_factory=list)


class Unclear(Exception):
    """Source that this reader cannot follow; says where."""


@cache
def checks(source: Path) -> dict[str, Check]:
    """Every check below a folder, by code in the order of the files."""
    found: dict[str, Check] = {}
    faults: list[str] = []
    for package in _packages(source):
        for module in package.modules:
            made = [n for n in module.nodes if isinstance(n, ast.Call) and called(n) in ("verdict", "Verdict")]
            for node in sorted(made, key=lambda n: n.lineno):
                if not _is_the_making(module, node):
                    try:
                        _add(package, module, node, found)
                    except Unclear as unclear:
                        faults.append(f"{module.path.relative_to(source).as_posix()}:{node.lineno}: {unclear}")
    if faults:
        raise Unclear("\n".join(faults))
    return found


def _packages(source: Path) -> Iterator[Reader]:
    """Folders with the modules in each, and in the folders below a stage."""
    for folder in sorted({path.parent for path in source.rglob("*.py")}):
        yield Reader(sorted(folder.glob("*.py")))


def _is_the_making(module: Module, node: ast.AST) -> bool:
    """Whether this is the one place where every verdict is made, rather than a check."""
    function = module.function(node)
    return function is not None and function.name == "verdict"


def _part(node: ast.Call, name: str, position: int) -> ast.expr | None:
    """Argument of a verdict by name, or by position for a Reading's."""
    named = next((k.value for k in node.keywords if k.arg == name), None)
    if named is not None or called(node) == "Verdict":
        return named
    return node.args[position] if position < len(node.args) else None


def _add(package: Reader, module: Module, node: ast.Call, found: dict[str, Check]) -> None:
    """Add what one call says to the checks it may make."""
    codes = package.texts(module, _part(node, "code", 0))
    if any("[" in code or "." not in code for code, _ in codes):
        raise Unclear(
            f"the code of this verdict cannot be read: {codes[0][0]}; write it out, or hand it in as a literal"
        )
    weights = package.texts(module, _part(node, "weight", 2))
    if any(weight not in WEIGHTS for weight, _ in weights):
        raise Unclear(f"the weight of this verdict cannot be read: {weights[0][0]}; write stop, caution or note")
    rows = set(_rows(package, module, _part(node, "limit", 99), set()))
    pairs = list(_sentences(package, module, node))
    for code, chosen in codes:
        check = found.setdefault(code, Check(code))
        check.weights |= {weight for weight, own in weights if joined(chosen, own) is not None}
        check.rows |= rows
        check.places.append(f"{module.path.name}:{node.lineno}")
        for text, own, state in pairs:
            if joined(chosen, own) is not None and text:
                check.said.setdefault(text, set()).add(state)


def _sentences(package: Reader, module: Module, node: ast.Call) -> Iterator[tuple[str, Choices, str]]:
    """Sentences of one call, each with its choices and the state it stands for, empty where numbers decide."""
    says = _part(node, "says", 3)
    if isinstance(says, ast.Dict):
        for key, value in zip(says.keys, says.values, strict=True):
            state = key.value if isinstance(key, ast.Constant) else ""
            yield from ((text, chosen, str(state)) for text, chosen in package.texts(module, value))
        return
    stated = _part(node, "judged", 99) or _part(node, "state", 99)
    states = package.texts(module, stated) if stated is not None else [("", {})]
    for text, chosen in package.texts(module, says):
        for state, own in states:
            both = joined(chosen, own)
            if both is not None:
                yield text, both, state if state in ORDER else ""


def _rows(package: Reader, module: Module, node: ast.AST | None, seen: set[object]) -> Iterator[tuple[str, str]]:
    """Rows of the handbook that a limit may be from: all that is looked up on the way to the expression."""
    if node is None or node in seen:
        return
    seen.add(node)
    for inner in ast.walk(node):
        name = called(inner)
        if isinstance(inner, ast.Call) and name == "known_limit" and isinstance(inner.args[0], ast.Constant):
            yield "signal_levels", str(inner.args[0].value)
        elif (
            isinstance(inner, ast.Call)
            and name == "known"
            and len(inner.args) == 2
            and isinstance(inner.args[0], ast.Constant)
        ):
            yield "chip", str(inner.args[0].value)
        elif isinstance(inner, ast.Call) and name in ("row_fact", "_row_fact"):
            key, _ = package.texts(module, inner.args[0])[0]
            if key.startswith("handbook."):
                yield key.split(".")[1], ""
        elif isinstance(inner, ast.Call) and isinstance(inner.func, ast.Name):
            target = package.definition(module, name)
            if target is not None:
                yield from _rows(package, target[0], target[1], seen)
        elif isinstance(inner, ast.Name) and isinstance(inner.ctx, ast.Load):
            yield from _named_rows(package, module, inner, seen)


def _named_rows(package: Reader, module: Module, name: ast.Name, seen: set[object]) -> Iterator[tuple[str, str]]:
    """Rows behind a local name or a parameter."""
    function = module.function(name)
    if function is None or (function, name.id) in seen:
        return
    seen.add((function, name.id))
    for value in _ever(package, module, function, name):
        yield from _rows(package, module, value, seen)
    if name.id in parameters(function) and name.id not in ("read", "reading", "chip"):
        for other, call in package.callers(module, function):
            yield from _rows(package, other, argument(call, function, name.id), seen)


def _ever(package: Reader, module: Module, function: FunctionNode, name: ast.Name) -> Iterator[ast.expr]:
    """Expressions that a name may hold where it stands, those put there by a loop included."""
    yield from (value for value in package.reaching(module, name) if value is not None)
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and any(isinstance(t, ast.Name) and t.id == name.id for t in node.targets):
            if any(isinstance(up, ast.For | ast.While) for up in module.up(node)):
                yield node.value
