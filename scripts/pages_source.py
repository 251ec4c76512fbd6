"""What the source says without running it: the strings an expression may become, and the handbook rows behind a limit.

An expression is followed through names, conditions, parameters and the functions of its own package. What only a run
can know stands in square brackets. Each text carries the choices made on the way, so that two texts can be held together.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

Choices = Mapping[object, object]
Text = tuple[str, Choices]
MOST = 24  # alternatives of one expression; past that its name stands for it
DEEPEST = 6

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

    def up(self, node: ast.AST) -> Iterator[ast.AST]:
        """What a node stands in, nearest first."""
        while node in self.parents:
            node = self.parents[node]
            yield node

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


def joined(first: Choices, second: Choices) -> Choices | None:
    """Both sets of choices, or None where they contradict each other."""
    if any(second.get(key, value) != value for key, value in first.items()):
        return None
    return {**first, **second}


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
        return [(m, c) for m, c in self.calls.get(function.name, []) if self.definition(m, function.name) == (module, function)]

    def reaching(self, module: Module, name: ast.Name) -> list[ast.expr | None]:
        """Expressions that a local name may hold where it stands; None for a parameter or what cannot be followed."""
        function = module.function(name)
        if function is None:
            return [None]
        found: list[ast.expr | None] = []
        here: ast.AST = name
        for parent in module.up(name):
            for block in ("body", "orelse", "finalbody", "handlers"):
                statements = getattr(parent, block, None)
                if isinstance(statements, list) and here in statements:
                    if _last(statements[: statements.index(here)], name.id, found):
                        return found
            if parent is function:
                break
            here = parent
        return [*found, None]

    def texts(self, module: Module, node: ast.expr | None, depth: int = 0) -> list[Text]:
        """Strings that an expression may become."""
        made = self._texts(module, node, depth) if node is not None else []
        unlike = {(text, tuple(sorted((repr(k), repr(v)) for k, v in chosen.items()))): (text, chosen) for text, chosen in made}
        return list(unlike.values()) if 0 < len(unlike) <= MOST else [(f"[{words(node)}]", {})]

    def _texts(self, module: Module, node: ast.expr, depth: int) -> list[Text]:
        """Alternatives of one kind of expression; empty where it cannot be followed."""
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            return [(node.value, {})]
        if depth > DEEPEST:
            return []
        if isinstance(node, ast.JoinedStr):
            return self._product(module, node.values, depth)
        if isinstance(node, ast.FormattedValue):
            return self._texts(module, node.value, depth) if node.format_spec is None else []
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            return self._product(module, [node.left, node.right], depth)
        if isinstance(node, ast.IfExp):
            both: list[Text] = []
            for value, chosen in self._test(module, node.test):
                branch = self.texts(module, node.body if value else node.orelse, depth + 1)
                both.extend((text, c) for text, own in branch if (c := joined(chosen, own)) is not None)
            return both
        if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.Or):
            return [
                (text, joined({("or", ast.dump(node)): i}, own) or {})
                for i, value in enumerate(node.values)
                for text, own in self.texts(module, value, depth + 1)
            ]
        if isinstance(node, ast.Name):
            return self._named(module, node, depth)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            return self._told(module, node.value, node.attr, depth)
        if isinstance(node, ast.Subscript):
            return self._cut(module, node, depth)
        if isinstance(node, ast.Call):
            return self._call(module, node, depth)
        return []

    def _product(self, module: Module, parts: Sequence[ast.expr], depth: int) -> list[Text]:
        """Texts one behind the other, in every combination that can be."""
        made: list[Text] = [("", {})]
        for part in parts:
            follow = self.texts(module, part, depth + 1)
            pairs = [(a + b, joined(first, second)) for a, first in made for b, second in follow]
            made = [(text, chosen) for text, chosen in pairs if chosen is not None]
            if len(made) > MOST:
                return []
        return made

    def _named(self, module: Module, node: ast.Name, depth: int) -> list[Text]:
        """Texts of a local name or of a parameter."""
        made: list[Text] = []
        reached = self.reaching(module, node)
        key = ("is", module.path, tuple(getattr(e, "lineno", 0) for e in reached))
        for value in reached:
            if value is not None:
                own = self.texts(module, value, depth + 1)
                made.extend((text, {**chosen, key: value.lineno} if len(reached) > 1 else chosen) for text, chosen in own)
                continue
            function = module.function(node)
            if function is None or node.id not in {a.arg for a in (*function.args.args, *function.args.kwonlyargs)}:
                return []
            for other, call in self.callers(module, function):
                given = self.texts(other, argument(call, function, node.id), depth + 1)
                who = ("call", module.path, function.name)
                made.extend((text, {**chosen, who: (str(other.path), call.lineno)}) for text, chosen in given)
        return made

    def _raised(self, module: Module, name: ast.Name) -> list[tuple[Module, ast.Call, FunctionNode]]:
        """Where an exception caught under a name may have been made, and what makes it."""
        handler = next((n for n in module.up(name) if isinstance(n, ast.ExceptHandler) and n.name == name.id), None)
        if handler is None or not isinstance(handler.type, ast.Name):
            return []
        kind = handler.type.id
        makers = [
            (m, n) for m in self.modules for c in m.nodes if isinstance(c, ast.ClassDef) and c.name == kind
            for n in c.body if isinstance(n, FunctionNode) and n.name == "__init__"
        ]  # fmt: skip
        tried = module.parents[handler]
        assert isinstance(tried, ast.Try)
        seen: dict[FunctionNode, Module] = {}
        found = [(module, node) for statement in tried.body for node in ast.walk(statement)]
        for place, node in found:
            target = self.definition(place, called(node)) if called(node) else None
            if target is not None and target[1] not in seen:
                seen[target[1]] = target[0]
                found.extend((target[0], inner) for inner in ast.walk(target[1]))
        return [(m, n, makers[0][1]) for m, n in found if makers and isinstance(n, ast.Call) and called(n) == kind]

    def _told(self, module: Module, name: ast.Name, attribute: str, depth: int) -> list[Text]:
        """Texts that an exception carries in an attribute."""
        made: list[Text] = []
        for other, call, maker in self._raised(module, name):
            given = self.texts(other, argument(call, maker, attribute), depth + 1)
            made.extend((text, {**own, ("raised", name.id): (str(other.path), call.lineno)}) for text, own in given)
        return made

    def _test(self, module: Module, test: ast.expr) -> list[tuple[bool, Choices]]:
        """Ways a condition may turn out."""
        if isinstance(test, ast.Attribute) and isinstance(test.value, ast.Name):
            made: list[tuple[bool, Choices]] = []
            for other, call, maker in self._raised(module, test.value):
                given = argument(call, maker, test.attr)
                if isinstance(given, ast.Constant):
                    made.append((bool(given.value), {("raised", test.value.id): (str(other.path), call.lineno)}))
            if made:
                return made
        plain, turned = (test.operand, True) if isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not) else (test, False)
        key = ("if", str(module.path), ast.dump(plain))
        return [(True, {key: not turned}), (False, {key: turned})]

    def _cut(self, module: Module, node: ast.Subscript, depth: int) -> list[Text]:
        """Texts of a slice, or of one letter, of a text."""
        try:
            where = ast.literal_eval(node.slice) if not isinstance(node.slice, ast.Slice) else slice(
                *(None if b is None else ast.literal_eval(b) for b in (node.slice.lower, node.slice.upper, node.slice.step))
            )  # fmt: skip
        except ValueError:
            return []
        texts = self._texts(module, node.value, depth + 1)
        return [(text[where], chosen) for text, chosen in texts if isinstance(where, int | slice) and text]

    def _call(self, module: Module, node: ast.Call, depth: int) -> list[Text]:
        """Texts of a small string method, or of a function of the package."""
        if isinstance(node.func, ast.Attribute) and node.func.attr in ("upper", "lower", "strip", "rstrip", "lstrip", "capitalize"):
            given = [a.value for a in node.args if isinstance(a, ast.Constant)]
            texts = self._texts(module, node.func.value, depth + 1)
            return [(str(getattr(text, node.func.attr)(*given)), chosen) for text, chosen in texts]
        target = self.definition(module, called(node)) if isinstance(node.func, ast.Name) else None
        if target is None:
            return []
        place, function = target
        made: list[Text] = []
        for back in (n for n in ast.walk(function) if isinstance(n, ast.Return) and place.function(n) is function):
            if isinstance(back.value, ast.expr) and not (isinstance(back.value, ast.Constant) and back.value.value is None):
                key = ("call", place.path, function.name)
                here = (str(module.path), node.lineno)
                made.extend(
                    ((text, {**own, ("back", function.name, node.lineno): back.lineno})
                     for text, own in self.texts(place, back.value, depth + 1) if own.get(key, here) == here)
                )  # fmt: skip
        return made


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
            ways = [statement.body, getattr(statement, "orelse", []), *(h.body for h in getattr(statement, "handlers", []))]
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


def words(node: ast.AST | None) -> str:
    """A name for what only a run can know."""
    if isinstance(node, ast.Name):
        return node.id.strip("_").replace("_", " ")
    if isinstance(node, ast.Attribute):
        dull = node.attr in ("name", "value", "title", "facts", "typical", "low", "high")
        return words(node.value) if dull else node.attr.strip("_").replace("_", " ")
    if isinstance(node, ast.Call):
        if called(node) in ("len", "count"):
            return "number"
        inner = [a for a in node.args if not isinstance(a, ast.Constant)]
        return words(inner[-1] if inner else node.func.value if isinstance(node.func, ast.Attribute) else None)
    if isinstance(node, ast.GeneratorExp | ast.ListComp):
        return words(node.generators[0].iter)
    if isinstance(node, ast.BinOp):
        return words(node.right if isinstance(node.left, ast.Constant) else node.left)
    if isinstance(node, ast.FormattedValue | ast.Subscript | ast.Starred):
        return words(node.value)
    if isinstance(node, ast.BoolOp):
        return words(node.values[0])
    if isinstance(node, ast.IfExp):
        return words(node.body if not isinstance(node.body, ast.Constant) else node.orelse)
    return "..."
