"""The source as trees: who stands in whom, who calls whom, and what a name may hold where it stands."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(eq=False)
class Module:
    """One source file, each node knowing its parent."""

    path: Path
    tree: ast.Module = field(init=False)
    parents: dict[ast.AST, ast.AST] = field(init=False)

    def __post_init__(self) -> None:
        """Parse, and note who stands in whom."""
        self.tree = ast.parse(self.path.read_text(encoding="utf-8"))
        self.parents = {child: node for node in ast.walk(self.tree) for child in ast.iter_child_nodes(node)}

    @cached_property
    def nodes(self) -> list[ast.AST]:
        """Every node."""
        return list(ast.walk(self.tree))

    @cached_property
    def constants(self) -> dict[str, ast.expr]:
        """Expressions that stand under a name at the top of the file."""
        made = [n for n in self.tree.body if isinstance(n, ast.Assign) and isinstance(n.targets[0], ast.Name)]
        return {n.targets[0].id: n.value for n in made if isinstance(n.targets[0], ast.Name)}

    def up(self, node: ast.AST) -> Iterator[ast.AST]:
        """What a node stands in, nearest first."""
        while node in self.parents:
            node = self.parents[node]
            yield node

    def line(self, node: ast.AST | None) -> int:
        """Line of the statement that a node stands in."""
        return next((n.lineno for n in self.up(node) if isinstance(n, ast.stmt)), 0) if node is not None else 0

    def function(self, node: ast.AST) -> FunctionNode | None:
        """Function that a node stands in."""
        return next((n for n in self.up(node) if isinstance(n, FunctionNode)), None)


def called(node: ast.AST) -> str:
    """Last name of what a call calls, empty for anything else."""
    if not isinstance(node, ast.Call):
        return ""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def argument(call: ast.Call, function: FunctionNode, name: str) -> ast.expr | None:
    """Argument of a call that becomes a parameter, or the parameter's default."""
    for keyword in call.keywords:
        if keyword.arg == name:
            return keyword.value
    spec = function.args
    names = [a.arg for a in (*spec.posonlyargs, *spec.args)]
    if names[:1] in (["self"], ["cls"]):
        names = names[1:]
    if name in names and names.index(name) < len(call.args):
        return call.args[names.index(name)]
    defaults = dict(zip(reversed(names), reversed(spec.defaults), strict=False))
    defaults |= {a.arg: d for a, d in zip(spec.kwonlyargs, spec.kw_defaults, strict=True) if d is not None}
    return defaults.get(name)


def parameters(function: FunctionNode) -> set[str]:
    """Names of a function's parameters."""
    return {a.arg for a in (*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs)}


class Package:
    """Modules of one folder, which call one another."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.modules = [Module(path) for path in paths]
        self.functions: dict[str, list[tuple[Module, FunctionNode]]] = {}
        self.calls: dict[str, list[tuple[Module, ast.Call]]] = {}
        for module in self.modules:
            for node in module.nodes:
                if isinstance(node, FunctionNode):
                    self.functions.setdefault(node.name, []).append((module, node))
                elif isinstance(node, ast.Call):
                    self.calls.setdefault(called(node), []).append((module, node))

    def definition(self, module: Module, name: str) -> tuple[Module, FunctionNode] | None:
        """Function of that name: the module's own, else the package's only one."""
        known = self.functions.get(name, [])
        own = [pair for pair in known if pair[0] is module]
        return own[0] if own else known[0] if len(known) == 1 else None

    def callers(self, module: Module, function: FunctionNode) -> list[tuple[Module, ast.Call]]:
        """Calls of a function within its package."""
        return [
            (m, c)
            for m, c in self.calls.get(function.name, [])
            if self.definition(m, function.name) == (module, function)
        ]

    def reaching(self, module: Module, name: ast.Name) -> list[ast.expr | None]:
        """Expressions that a local name may hold where it stands; None for a parameter or what cannot be followed."""
        function = module.function(name)
        if function is None:
            return [None]
        found: list[ast.expr | None] = []
        here: ast.AST = name
        for parent in module.up(name):
            for block in ("body", "orelse", "finalbody"):
                statements = getattr(parent, block, None)
                if isinstance(statements, list) and here in statements:
                    if _last(statements[: statements.index(here)], name.id, found):
                        return found
            if parent is function:
                break
            here = parent
        return [*found, None]


def _last(statements: Sequence[ast.stmt], name: str, found: list[ast.expr | None]) -> bool:
    """Add what the last of some statements leave in a name; whether they leave something on every way through."""
    for statement in reversed(statements):
        if isinstance(statement, ast.Assign):
            values = [v for target in statement.targets for v in _bound(target, statement.value, name)]
        elif isinstance(statement, ast.AnnAssign):
            values = _bound(statement.target, statement.value, name) if statement.value is not None else []
        else:
            values = []
        if values:
            found.extend(values)
            return True
        if isinstance(statement, ast.If | ast.Try | ast.With | ast.For | ast.While):
            ways = [
                statement.body,
                getattr(statement, "orelse", []),
                *(h.body for h in getattr(statement, "handlers", [])),
            ]
            whole = [_last(way, name, found) or _leaves(way) for way in ways]
            if isinstance(statement, ast.If | ast.With) and all(whole[: 2 if isinstance(statement, ast.If) else 1]):
                return True
    return False


def _leaves(statements: Sequence[ast.stmt]) -> bool:
    """Whether some statements end by leaving."""
    return bool(statements) and isinstance(statements[-1], ast.Return | ast.Raise | ast.Continue | ast.Break)


def _bound(target: ast.expr, value: ast.expr, name: str) -> list[ast.expr]:
    """What an assignment puts under a name."""
    if isinstance(target, ast.Name):
        return [value] if target.id == name else []
    if isinstance(target, ast.Tuple):
        if isinstance(value, ast.Tuple) and len(value.elts) == len(target.elts):
            return [v for t, e in zip(target.elts, value.elts, strict=True) for v in _bound(t, e, name)]
        return [value] if any(isinstance(t, ast.Name) and t.id == name for t in target.elts) else []
    return []
