"""The strings an expression of the source may become, found without running it.

An expression is followed through names, conditions, parameters and the functions of its own package. What only a run
can know stands in square brackets. Each text carries the choices made on the way, so that two texts can be held together.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping, Sequence

from pages_source import FunctionNode, Module, Package, argument, called, parameters

Choices = Mapping[object, object]
Text = tuple[str, Choices]
MOST = 24  # alternatives of one expression; past that its name stands for it
DEEPEST = 14  # expressions within expressions
UNIT = r"_(a|hz|ohm|ppm|px|s|v|w)$"  # ends of names that the sentence words in its own unit


def joined(first: Choices, second: Choices) -> Choices | None:
    """Both sets of choices, or None where they contradict each other."""
    if any(second.get(key, value) != value for key, value in first.items()):
        return None
    return {**first, **second}


class Reader(Package):
    """Reads the strings in the modules of one folder."""

    def texts(self, module: Module, node: ast.expr | None, depth: int = 0) -> list[Text]:
        """Strings that an expression may become."""
        made = self._texts(module, node, depth) if node is not None else []
        made = [(re.sub(r"(\[[^\]]+\])\1", r"\1", text), chosen) for text, chosen in made]
        unlike = {
            (text, tuple(sorted((repr(k), repr(v)) for k, v in chosen.items()))): (text, chosen)
            for text, chosen in made
        }
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
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add) and not _counts(node):
            return self._product(module, [node.left, node.right], depth)
        if isinstance(node, ast.IfExp):
            both: list[Text] = []
            for value, chosen in self._test(module, node.test):
                branch = self.texts(module, node.body if value else node.orelse, depth + 1)
                both.extend((text, c) for text, own in branch if (c := joined(chosen, own)) is not None)
            return both
        if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.Or):
            return self._first(module, node, depth)
        if isinstance(node, ast.Name):
            return self._named(module, node, depth)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            return self._told(module, node.value, node.attr, depth)
        if isinstance(node, ast.Subscript):
            return self._cut(module, node, depth)
        if isinstance(node, ast.Call):
            return self._call(module, node, depth)
        return []

    def _first(self, module: Module, node: ast.BoolOp, depth: int) -> list[Text]:
        """Texts of the first of several values that is not empty."""
        made: list[Text] = []
        before: Choices | None = {}
        for number, value in enumerate(node.values, 1):
            ways = self._test(module, value) if number < len(node.values) else [(True, {})]
            for full, chosen in ways:
                here = joined(before, chosen) if full and before is not None else None
                texts = self.texts(module, value, depth + 1) if here is not None else []
                made.extend((text, c) for text, own in texts if (c := joined(here or {}, own)) is not None)
            empty = next((chosen for full, chosen in ways if not full), None)
            before = joined(before, empty) if before is not None and empty is not None else before
        return made

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
        key = ("is", str(module.path), tuple(module.line(value) for value in reached))
        for value in reached:
            if value is not None:
                own = self.texts(module, value, depth + 1)
                made.extend(
                    (text, {**chosen, key: module.line(value)} if len(reached) > 1 else chosen) for text, chosen in own
                )
                continue
            function = module.function(node)
            if function is None or node.id not in parameters(function):
                return []
            for other, call in self.callers(module, function):
                given = self.texts(other, argument(call, function, node.id), depth + 1)
                who = ("call", str(module.path), function.name)
                made.extend((text, {**chosen, who: _at(other, call)}) for text, chosen in given)
        # of all the names for what only a run can know, the nearest is the reader's
        return [(f"[{words(node)}]" if re.fullmatch(r"\[[^\]]*\]", text) else text, chosen) for text, chosen in made]

    def _raised(self, module: Module, name: ast.Name) -> list[tuple[Module, ast.Call, FunctionNode]]:
        """Where an exception caught under a name may have been made, and what makes it."""
        handler = next((n for n in module.up(name) if isinstance(n, ast.ExceptHandler) and n.name == name.id), None)
        function = module.function(name)
        if handler is None and function is not None and name.id in parameters(function):
            given = [(m, argument(call, function, name.id)) for m, call in self.callers(module, function)]
            return [
                one
                for m, node in given
                if isinstance(node, ast.Name) and node.id != "self"
                for one in self._raised(m, node)
            ]
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
            made.extend((text, {**own, "raised": _at(other, call)}) for text, own in given)
        return made

    def _test(self, module: Module, test: ast.expr) -> list[tuple[bool, Choices]]:
        """Ways a condition may turn out."""
        if isinstance(test, ast.Attribute) and isinstance(test.value, ast.Name):
            made: list[tuple[bool, Choices]] = []
            for other, call, maker in self._raised(module, test.value):
                given = argument(call, maker, test.attr)
                if isinstance(given, ast.Constant):
                    made.append((bool(given.value), {"raised": _at(other, call)}))
            if made:
                return made
        turned = isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not)
        plain, some = self._plain(module, test.operand if isinstance(test, ast.UnaryOp) and turned else test)
        keys = [("if", str(module.path), ast.dump(node)) for node in (plain, some) if node is not None]
        return [(not turned, dict.fromkeys(keys, True)), (turned, {keys[0]: False})]

    def _plain(self, module: Module, test: ast.expr) -> tuple[ast.expr, ast.expr | None]:
        """The list whose emptiness decides a condition where one does; beside it a list that must then hold something."""
        held = self.reaching(module, test) if isinstance(test, ast.Name) else []
        value = held[0] if len(held) == 1 and held[0] is not None else test
        if isinstance(value, ast.Call) and called(value) == "join" and value.args:
            value = value.args[0]  # joined words are empty just when there are none
            if isinstance(value, ast.GeneratorExp) and not value.generators[0].ifs:
                value = value.generators[0].iter
            return value, None
        if (
            isinstance(value, ast.Call)
            and called(value) == "any"
            and value.args
            and isinstance(value.args[0], ast.GeneratorExp)
        ):
            return test, value.args[0].generators[0].iter
        return test, None

    def _cut(self, module: Module, node: ast.Subscript, depth: int) -> list[Text]:
        """Texts of a slice, or of one letter, of a text."""
        try:
            where = ast.literal_eval(node.slice) if not isinstance(node.slice, ast.Slice) else slice(
                *(None if b is None else ast.literal_eval(b) for b in (node.slice.lower, node.slice.upper, node.slice.step))
            )  # fmt: skip
        except ValueError:
            return []
        texts = self._texts(module, node.value, depth + 1)
        made: list[Text] = []
        for text, chosen in texts:
            # an item of what only a run can know is as little known, unless it is the first letter on its way to a capital
            whole = isinstance(where, int) and text[:1] == "[" and not isinstance(module.parents[node], ast.Attribute)
            if whole or isinstance(where, int | slice):
                made.append((text if whole else text[where], chosen))
        return [pair for pair in made if pair[0]]

    def _call(self, module: Module, node: ast.Call, depth: int) -> list[Text]:
        """Texts of a small string method, or of a function of the package."""
        if isinstance(node.func, ast.Attribute) and node.func.attr in (
            "upper",
            "lower",
            "strip",
            "rstrip",
            "lstrip",
            "replace",
        ):
            given = [a.value for a in node.args if isinstance(a, ast.Constant)]
            texts = self._texts(module, node.func.value, depth + 1)
            return [(str(getattr(text, node.func.attr)(*given)), chosen) for text, chosen in texts]
        if called(node) == "join" and isinstance(node.args[0], ast.Name):
            listed = module.constants.get(node.args[0].id)
            items = listed.elts if isinstance(listed, ast.Tuple) else []
            known = [str(item.value) for item in items if isinstance(item, ast.Constant)]
            return [(", ".join(known), {})] if known and len(known) == len(items) else []
        target = self.definition(module, called(node)) if isinstance(node.func, ast.Name) else None
        if target is None:
            return []
        place, function = target
        made: list[Text] = []
        for back in (n for n in ast.walk(function) if isinstance(n, ast.Return) and place.function(n) is function):
            if isinstance(back.value, ast.expr) and not (
                isinstance(back.value, ast.Constant) and back.value.value is None
            ):
                key = ("call", str(place.path), function.name)
                here = _at(module, node)
                made.extend(
                    ((text, {**own, ("back", function.name, here): back.lineno})
                     for text, own in self.texts(place, back.value, depth + 1) if own.get(key, here) == here)
                )  # fmt: skip
        return made


def _at(module: Module, node: ast.expr) -> tuple[str, int, int]:
    """Where an expression stands."""
    return str(module.path), node.lineno, node.col_offset


def _counts(node: ast.BinOp) -> bool:
    """Whether a sum is one of numbers."""
    return any(isinstance(n, ast.Constant) and not isinstance(n.value, str) for n in (node.left, node.right))


def words(node: ast.AST | None) -> str:
    """A name for what only a run can know."""
    if isinstance(node, ast.Name):
        return re.sub(UNIT, "", node.id.strip("_")).replace("_", " ")
    if isinstance(node, ast.Attribute):
        dull = node.attr in ("name", "value", "title", "facts", "typical", "low", "high")
        return words(node.value) if dull else re.sub(UNIT, "", node.attr.strip("_")).replace("_", " ")
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
