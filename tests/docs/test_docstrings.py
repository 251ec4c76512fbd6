"""Docstrings hold what the code holds: names, units, raised types. Read from the source, so nothing is imported.

Public: names equal the signature, a unit in brackets ends the description of each number, raised types are listed.
Private ones, properties, overrides, double-underscore methods and validators need one honest line.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[2] / "src"
NUMBERS = {"int", "float", "complex", "Fraction", "Decimal", "Span", "ndarray", "NDArray"}
# What may stand in the brackets: SI units, counted things, and "unit" where the unit travels beside the number.
ATOMS = (
    "1 % ppm dB LSB V A ohm S W J C F H Hz s min h day m mm kg g K degC deg rad sr lx cd currency unit "
    "B bit px row line lane word frame entry cycle sample part board minute"
).split()
UNITS = {*ATOMS, *(f"{atom}s" for atom in ATOMS[ATOMS.index("bit") :]), "entries"}
ONE_LINE_DECORATORS = {
    *("property", "cached_property", "setter", "override", "computed_field", "field_validator", "model_validator"),
    *("field_serializer", "model_serializer"),
}
FIELD_CLASSES = {"NamedTuple"}
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass
class Entry:
    """One item of a section: its head, such as `load_ohm : float`, and the text below."""

    head: str
    text: str = ""

    @property
    def names(self) -> list[str]:
        return [name.strip().lstrip("*") for name in self.head.partition(" :")[0].split(",")]

    @property
    def unit_fault(self) -> str | None:
        found = re.search(r"\[([^\[\]]*)\]\.?$", self.text.strip())
        if not found:
            return "has no unit in brackets at its end"
        atoms = [atom.strip() for atom in re.split(r"[,/*·]", found[1])]
        known = [atom in UNITS or re.sub(r"(?<=\D)[23]$", "", atom) in UNITS for atom in atoms]  # m2 is m squared
        return None if all(known) else f"has [{found[1]}], which is no unit of UNITS in this test"


@dataclass
class Doc:
    """A docstring taken apart."""

    summary: str = ""
    fault: str | None = None
    sections: dict[str, list[Entry]] = field(default_factory=dict)

    def names(self, section: str) -> list[str]:
        return [name for entry in self.sections.get(section, []) for name in entry.names]


def parsed(raw: str | None) -> Doc:
    """Take a docstring apart by the rules of numpydoc."""
    if not raw or not raw.strip():
        return Doc(fault="has no docstring")
    lines = inspect.cleandoc(raw).splitlines()
    fault = None if raw.split("\n", 1)[0].strip() else "starts its docstring with an empty line"
    if len(lines) > 1 and lines[1].strip():
        fault = "has a summary of more than one line"
    doc = Doc(lines[0], fault)
    heads = [n for n in range(len(lines) - 1) if lines[n].strip() and re.fullmatch(r"-{3,}", lines[n + 1].strip())]
    for head, end in pairwise([*heads, len(lines)]):
        entries = doc.sections.setdefault(lines[head].strip(), [])
        for line in lines[head + 2 : end]:
            if line.strip() and not line.startswith(" "):
                entries.append(Entry(line.rstrip()))
            elif line.strip() and entries:
                entries[-1].text += f" {line.strip()}"
        if not entries:
            doc.fault = f"has an empty section {lines[head].strip()}"
    return doc


def last_name(node: ast.expr) -> str:
    """Last part of a dotted name, seen through calls and subscripts: `a.b.C[int](x)` gives C."""
    while isinstance(node, ast.Call | ast.Subscript):
        node = node.func if isinstance(node, ast.Call) else node.value
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def numeric(annotation: ast.expr | None, numbers: set[str]) -> bool:
    """Whether an annotation holds numbers; a callable's own numbers are not the argument's."""
    if isinstance(annotation, ast.Constant) and isinstance(annotation.value, str):
        annotation = ast.parse(annotation.value, mode="eval").body
    if isinstance(annotation, ast.Name | ast.Attribute):
        return last_name(annotation) in numbers
    if isinstance(annotation, ast.Subscript):
        outer, inner = last_name(annotation), annotation.slice
        if outer == "Annotated" and isinstance(inner, ast.Tuple):
            return numeric(inner.elts[0], numbers)
        if outer in ("dict", "Mapping") and isinstance(inner, ast.Tuple):  # a key is a name, even a pin's
            return numeric(inner.elts[-1], numbers)
        return outer not in ("Callable", "Literal") and (outer in numbers or numeric(inner, numbers))
    if annotation is None or {"str", "int"} <= {n.id for n in ast.walk(annotation) if isinstance(n, ast.Name)}:
        return False  # str | int is a step of a path
    return any(numeric(node, numbers) for node in ast.iter_child_nodes(annotation) if isinstance(node, ast.expr))


def aliases(trees: dict[Path, ast.Module]) -> set[str]:
    """Numbers by another name: module-level aliases of types that hold numbers."""
    numbers = set(NUMBERS)
    for node in (node for tree in trees.values() for node in tree.body):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name, value = node.targets[0].id, node.value
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value:
            name, value = node.target.id, node.value
        else:
            continue
        if re.match(r"[A-Z][a-z]", name) and isinstance(value, ast.Subscript | ast.BinOp) and numeric(value, numbers):
            numbers.add(name)
    return numbers


def raised(function: Function) -> set[str]:
    """Exception types raised in a body itself, not in functions defined inside it."""
    found: set[str] = set()
    waiting: list[ast.AST] = list(function.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Lambda):
            continue
        if isinstance(node, ast.Raise) and node.exc and last_name(node.exc)[:1].isupper():
            found.add(last_name(node.exc))
        waiting.extend(ast.iter_child_nodes(node))
    return found


class Checker:
    """Walks the source files and collects every fault."""

    def __init__(self, trees: dict[Path, ast.Module]) -> None:
        self.trees = trees
        self.numbers = aliases(trees)
        self.classes = {n.name: n for tree in trees.values() for n in ast.walk(tree) if isinstance(n, ast.ClassDef)}

    def faults(self) -> Iterator[str]:
        for path, tree in self.trees.items():
            hidden = any(part.startswith("_") and not part.startswith("__") for part in path.parts)
            for line, name, fault in self.within(tree.body, path, "", hidden):
                yield f"{path.as_posix()}:{line}: {name} {fault}"

    def within(
        self, body: list[ast.stmt], path: Path, owner: str, hidden: bool, parent: ast.ClassDef | None = None
    ) -> Iterator[tuple[int, str, str]]:
        for node in body:
            if not isinstance(node, Function | ast.ClassDef):
                continue
            name = f"{owner}{node.name}"
            if any(last_name(decorator) == "overload" for decorator in node.decorator_list):
                continue
            private = hidden or node.name.startswith("_")
            doc = parsed(ast.get_docstring(node, clean=False))
            if doc.fault:
                if node.name != "__init__":  # the class says what it takes
                    yield node.lineno, name, doc.fault
            elif isinstance(node, ast.ClassDef):
                yield from ((node.lineno, name, fault) for fault in ([] if private else self.of_class(node, doc)))
            elif not private and not self.one_line(node, parent):
                yield from ((node.lineno, name, fault) for fault in self.of_function(node, doc, path, parent))
            if isinstance(node, ast.ClassDef):
                yield from self.within(node.body, path, f"{name}.", private, node)

    def one_line(self, node: Function, parent: ast.ClassDef | None) -> bool:
        """Whether the rest is said elsewhere: by the field rules, or by what it overrides."""
        if any(last_name(decorator) in ONE_LINE_DECORATORS for decorator in node.decorator_list):
            return True
        return parent is not None and any(self.has(last_name(base), node.name) for base in parent.bases)

    def has(self, class_name: str, method: str) -> bool:
        """Whether a class of ours, or one it rests on, defines a method."""
        known = self.classes.get(class_name)
        if known is None:
            return False
        own = any(isinstance(node, Function) and node.name == method for node in known.body)
        return own or any(self.has(last_name(base), method) for base in known.bases)

    def of_function(self, node: Function, doc: Doc, path: Path, parent: ast.ClassDef | None) -> Iterator[str]:
        arguments = signature(node, parent)
        yield from self.of_names([argument.arg for argument in arguments], doc)
        yield from self.of_raised(raised(node), doc)
        if "cli" in path.parts:  # help text for people: units stand in their own words there
            return
        numbers = {argument.arg for argument in arguments if numeric(argument.annotation, self.numbers)}
        yield from self.of_units(numbers, doc.sections.get("Parameters", []))
        silent = isinstance(node.returns, ast.Constant) and node.returns.value is None
        if node.returns is None or silent or last_name(node.returns) in ("NoReturn", "Never", "Self"):
            return
        entries = doc.sections.get("Returns") or doc.sections.get("Yields")
        if not entries:
            yield "returns something but has no section Returns or Yields"
        elif numeric(node.returns, self.numbers):
            faults = [entry.unit_fault for entry in entries]
            if all(faults):
                yield f"Returns: {faults[0]}"

    def of_class(self, node: ast.ClassDef, doc: Doc) -> Iterator[str]:
        makers = {n.name: n for n in node.body if isinstance(n, Function) and n.name in ("__init__", "__post_init__")}
        yield from self.of_raised({name for maker in makers.values() for name in raised(maker)}, doc)
        if is_dataclass(node) or FIELD_CLASSES & {last_name(base) for base in node.bases}:
            yield from self.of_fields(node, doc)
        elif "__init__" in makers:
            own = parsed(ast.get_docstring(makers["__init__"], clean=False))
            arguments = signature(makers["__init__"], node)
            told = own if "Parameters" in own.sections else doc
            yield from self.of_names([argument.arg for argument in arguments], told)
            numbers = {argument.arg for argument in arguments if numeric(argument.annotation, self.numbers)}
            yield from self.of_units(numbers, told.sections.get("Parameters", []))

    def of_fields(self, node: ast.ClassDef, doc: Doc) -> Iterator[str]:
        """Fields are told in the class's Parameters or Attributes, or in a line below each."""
        entries = [*doc.sections.get("Parameters", []), *doc.sections.get("Attributes", [])]
        told = [name for entry in entries for name in entry.names]
        own = fields(node)
        inherited = {name for base in node.bases for name in self.inherited(last_name(base))}
        for name in told:
            if name not in own and name not in inherited:
                yield f"documents {name}, which is no field"
        for name, (annotation, below) in own.items():
            if name not in told and not below:
                yield f"does not say what {name} is"
            elif name not in told and numeric(annotation, self.numbers):
                fault = Entry(name, below).unit_fault
                if fault:
                    yield f"{name} {fault}"
        numbers = {name for name, (annotation, _) in own.items() if numeric(annotation, self.numbers)}
        yield from self.of_units(numbers, entries)

    def inherited(self, class_name: str) -> set[str]:
        known = self.classes.get(class_name)
        if known is None:
            return set()
        return {*fields(known), *(name for base in known.bases for name in self.inherited(last_name(base)))}

    @staticmethod
    def of_names(arguments: list[str], doc: Doc) -> Iterator[str]:
        told = doc.names("Parameters")
        if told != arguments:
            yield f"takes ({', '.join(arguments)}) but Parameters tells ({', '.join(told)})"

    @staticmethod
    def of_raised(types: set[str], doc: Doc) -> Iterator[str]:
        told = set(re.findall(r"\w+", " ".join(entry.head for entry in doc.sections.get("Raises", []))))
        for name in sorted(types - told):
            yield f"raises {name} but Raises does not list it"

    @staticmethod
    def of_units(numbers: set[str], entries: list[Entry]) -> Iterator[str]:
        for entry in entries:
            if numbers.intersection(entry.names) and entry.unit_fault:
                yield f"{', '.join(entry.names)} {entry.unit_fault}"


def signature(node: Function, parent: ast.ClassDef | None) -> list[ast.arg]:
    """Arguments as a caller counts them, without self or cls."""
    a = node.args
    found = [*a.posonlyargs, *a.args, *filter(None, [a.vararg]), *a.kwonlyargs, *filter(None, [a.kwarg])]
    fixed = any(last_name(decorator) == "staticmethod" for decorator in node.decorator_list)
    return found[1:] if parent is not None and not fixed else found


def is_dataclass(node: ast.ClassDef) -> bool:
    return any(last_name(decorator) in ("dataclass", "record") for decorator in node.decorator_list)


def fields(node: ast.ClassDef) -> dict[str, tuple[ast.expr, str]]:
    """Public fields of a class with the text in the line below each."""
    found: dict[str, tuple[ast.expr, str]] = {}
    for statement, after in zip(node.body, [*node.body[1:], None], strict=True):
        if not isinstance(statement, ast.AnnAssign) or not isinstance(statement.target, ast.Name):
            continue
        if statement.target.id.startswith("_") or last_name(statement.annotation) == "ClassVar":
            continue
        said = after.value.value if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant) else ""
        found[statement.target.id] = (statement.annotation, " ".join(str(said).split()))
    return found


def read_source() -> dict[Path, ast.Module]:
    paths = sorted((SOURCE / "scanloom").rglob("*.py"))
    return {path.relative_to(SOURCE): ast.parse(path.read_text(encoding="utf-8"), str(path)) for path in paths}


def test_every_docstring_says_what_the_code_says() -> None:
    trees = read_source()
    assert trees
    faults = list(Checker(trees).faults())
    if faults:
        pytest.fail(f"{len(faults)} faults\n" + "\n".join(faults), pytrace=False)


CLEAN = '''
@dataclass(frozen=True)
class Ladder:
    """Parts in a row.

    Raises
    ------
    ValueError
        If empty.
    """

    part_ohm: float
    """Each part. [ohm]"""
    name: str
    """What it is called."""

    def __post_init__(self) -> None:
        """Refuse nothing."""
        raise ValueError("empty")

    @property
    def total_ohm(self) -> float:
        """All of them."""

    def current(self, rail_v: float, *taps: int, check: Callable[[int], int]) -> "float | None":
        """Current through the row.

        Parameters
        ----------
        rail_v : float
            Supply, as span or number. [V]
        *taps : int
            Where. [1]
        check : callable
            Asked first.

        Returns
        -------
        float or None
            Current. [A]

        Raises
        ------
        KeyError
            If there is no such tap.
        """
        raise KeyError(taps)

def _helper(x: float) -> float:
    """Half of it."""
'''

PLANTED = {
    "no docstring": ('"""Half of it."""', "pass", "_helper has no docstring"),
    "summary too long": ("Half of it.", "Half\n    of it.", "_helper has a summary of more than one line"),
    "name drifted": (
        "rail_v : float",
        "supply_v : float",
        "takes (rail_v, taps, check) but Parameters tells (supply_v",
    ),
    "order drifted": ("self, rail_v: float, *taps", "self, u, rail_v: float, *taps", "takes (u, rail_v, taps, check)"),
    "argument without unit": ("number. [V]", "number.", "rail_v has no unit"),
    "unit not at the end": ("Where. [1]", "Where. [1] Or not.", "taps has no unit"),
    "unknown unit": ("number. [V]", "number. [volts]", "rail_v has [volts]"),
    "return without unit": ("Current. [A]", "Current.", "Returns: has no unit"),
    "no Returns": ("Returns\n        -------", "Notes\n        -----", "has no section Returns"),
    "raised but not told": ("        KeyError\n", "        OSError\n", "raises KeyError"),
    "class raises": ("    ValueError\n        If empty", "    OSError\n        If empty", "Ladder raises ValueError"),
    "field without unit": ("Each part. [ohm]", "Each part.", "part_ohm has no unit"),
    "field without a word": ('\n    """What it is called."""', "", "does not say what name is"),
    "empty section": ("        KeyError\n            If there is no such tap.\n", "", "has an empty section Raises"),
}


def faults_of(text: str) -> list[str]:
    return list(Checker({Path("scanloom/x.py"): ast.parse(text)}).faults())


def test_clean_code_stays_quiet() -> None:
    assert faults_of(CLEAN) == []


@pytest.mark.parametrize("name", PLANTED)
def test_planted_fault_is_found(name: str) -> None:
    old, new, expected = PLANTED[name]
    assert CLEAN.count(old) == 1
    assert any(expected in fault for fault in faults_of(CLEAN.replace(old, new))), faults_of(CLEAN.replace(old, new))
