"""One walk through a TOML text that notes where keys and values stand.

The grammar is that of TOML 1.0.0. The walk is lenient where the standard library's reader is strict (duplicate keys,
months beyond twelve), so `toml_places.read_toml` asks that reader too.
"""

from __future__ import annotations

import re
from typing import NamedTuple, NoReturn

KeyPath = tuple[str | int, ...]
"""Keys by name, items of lists and entries of [[tables]] by number from 0."""

MOST_NESTED = 100
"""Deepest key path that is read; a dossier needs about six, and readers that recurse run out near three hundred."""

# Possessive quantifiers keep every pattern linear on text that is not TOML.
_BLANK = re.compile(r"[ \t]*+")
_GAP = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_LINE_END = re.compile(r"[ \t]*+(?:#[^\n]*+)?+\r?(?:\n|\Z)")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]++")
_SCALAR = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d[0-9:.Zz+-]*+|[A-Za-z0-9_.:+-]++")
_STRINGS = (
    ('"""', re.compile(r'"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*+"{3,5}')),
    ("'''", re.compile(r"'''(?:[^']|'{1,2}(?!'))*+'{3,5}")),
    ('"', re.compile(r'"[^"\\\n]*+(?:\\[^\n][^"\\\n]*+)*+"')),
    ("'", re.compile(r"'[^'\n]*+'")),
)
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


class Span(NamedTuple):
    """Characters before a key, before its value and up to the value's end; `owner` is the table whose lines hold it."""

    kind: str
    key: int
    start: int
    end: int
    owner: KeyPath


class Statement(NamedTuple):
    """A header, a key with its value, or an item of a list: the whole of it, from `start` up to `end`."""

    path: KeyPath
    start: int
    end: int
    is_header: bool


class Stuck(ValueError):
    """The scanner met something that is not TOML."""


class NestedTooDeep(Stuck):
    """The scanner met a key path longer than `MOST_NESTED`."""


class Scanner:
    """One walk through a text; after a failure it still tells how far it came."""

    __slots__ = ("_counts", "at", "key", "members", "opened", "spans", "statements", "text", "token", "twice")

    def __init__(self, text: str) -> None:
        """Start at the beginning."""
        self.text = text
        self.at = 0
        self.key = 0  # where the key read last began
        self.token = 0  # where the value, or quoted part of a key, read last began
        self.opened: list[int] = []  # brackets and braces not closed yet
        self.spans: dict[KeyPath, Span] = {(): Span("document", 0, 0, 0, ())}
        self.statements: list[Statement] = []
        self.members: dict[KeyPath, list[Statement]] = {}  # of each inline list and inline table
        self.twice: list[tuple[KeyPath, int, int, tuple[str, str]]] = []  # path, first and second key, kind of each
        self._counts: dict[KeyPath, int] = {}  # entries so far of each [[name]]

    def run(self) -> None:
        """Walk the whole text, or raise Stuck."""
        text = self.text
        base: KeyPath = ()
        gap, line_end = _GAP.match, _LINE_END.match
        while True:
            self.at = gap(text, self.at).end()  # type: ignore[union-attr]
            if self.at >= len(text):
                return
            start = self.at
            if text[start] == "[":
                path = base = self._header()
            else:
                path = self._pair(base)
            self.statements.append(Statement(path, start, self.at, path is base))
            ended = line_end(text, self.at)
            if ended is None:
                self._stuck("the line to end")
            self.at = ended.end()

    def _header(self) -> KeyPath:
        """[table] or [[entry]]; gives the path that the lines below belong to."""
        start = self.at
        brackets = 2 if self.text.startswith("[[", start) else 1
        self.at += brackets
        self._blank()
        parts = self._key()
        if not self.text.startswith("]" * brackets, self.at):
            self._stuck("]" * brackets)
        self.at += brackets
        path: KeyPath = ()
        for name, key, key_end in parts[:-1]:
            path += (name,)
            known = self.spans.setdefault(path, Span("implied", key, key, key_end, ()))
            if known.kind == "value":
                self.twice.append((path, known.key, key, (known.kind, "header")))
            if path in self._counts:
                path += (self._counts[path] - 1,)
        name, key, _ = parts[-1]
        path += (name,)
        before = self.spans.get(path)
        if before is not None and before.kind != "implied" and not (brackets == 2 and before.kind == "entries"):
            self.twice.append((path, before.key, key, (before.kind, "header" if brackets == 1 else "entries")))
        if brackets == 2:
            count = self._counts.get(path, 0)
            self._counts[path] = count + 1
            if not count:
                self.spans[path] = Span("entries", key, start, self.at, ())
            path += (count,)
        self.spans[path] = Span("header", key, start, self.at, path)
        return path

    def _pair(self, base: KeyPath) -> KeyPath:
        """Key = value; gives the whole path."""
        parts = self._key()
        if self.text[self.at : self.at + 1] != "=":
            self._stuck("=")
        self.at += 1
        self._blank()
        path = base
        for name, key, key_end in parts[:-1]:
            path += (name,)
            known = self.spans.get(path)
            if known is None or known.kind == "implied":
                self.spans[path] = Span("dotted", key, key, key_end, base)
            elif known.kind != "dotted":
                self.twice.append((path, known.key, key, (known.kind, "dotted")))
        name, key, _ = parts[-1]
        path += (name,)
        self._value(path, key, base)
        return path

    def _value(self, path: KeyPath, key: int, owner: KeyPath) -> None:
        """One value of any type."""
        if len(path) > MOST_NESTED:
            raise NestedTooDeep(f"nested deeper than {MOST_NESTED} levels")
        text, start = self.text, self.at
        self.token = start
        first = text[start : start + 1]
        if path in self.spans:
            self.twice.append((path, self.spans[path].key, key, (self.spans[path].kind, "value")))
        self.spans[path] = Span("value", key, start, start, owner)  # holds its turn before its own items
        if first == '"' or first == "'":
            self._string()
        elif first == "[":
            self._list(path)
        elif first == "{":
            self._inline_table(path)
        else:
            found = _SCALAR.match(text, start)
            if found is None:
                self._stuck("a value")
            self.at = found.end()
        self.spans[path] = Span("value", key, start, self.at, owner)

    def _string(self) -> str:
        """One string of the four kinds, with its quotes."""
        for quotes, pattern in _STRINGS:
            if self.text.startswith(quotes, self.at):
                found = pattern.match(self.text, self.at)
                if found is None:
                    self._stuck(f"a closing {quotes}")
                self.at = found.end()
                return found[0]
        self._stuck("a string")

    def _list(self, path: KeyPath) -> None:
        """[item, item], over several lines and with comments."""
        members = self.members[path] = []
        self.opened.append(self.at)
        self.at += 1
        while True:
            self._gap()
            if self.text.startswith("]", self.at):
                break
            start, item = self.at, (*path, len(members))
            self._value(item, start, path)
            members.append(Statement(item, start, self.at, False))
            self._gap()
            if self.text.startswith(",", self.at):
                self.at += 1
            elif not self.text.startswith("]", self.at):
                self._stuck("a comma or ]")
        self.at += 1
        self.opened.pop()

    def _inline_table(self, path: KeyPath) -> None:
        """{ key = value, key = value } on one line."""
        members = self.members[path] = []
        self.opened.append(self.at)
        self.at += 1
        self._blank()
        while not (self.text.startswith("}", self.at) and not members):
            start = self.at
            inner = self._pair(path)
            members.append(Statement(inner, start, self.at, False))
            self._blank()
            if not self.text.startswith(",", self.at):
                break
            self.at += 1
            self._blank()
        if not self.text.startswith("}", self.at):
            self._stuck("a comma or }")
        self.at += 1
        self.opened.pop()

    def _key(self) -> list[tuple[str, int, int]]:
        """Parts of a key, each with its first character and its end; blanks after the key are skipped."""
        parts: list[tuple[str, int, int]] = []
        self.key = self.at
        while True:
            start = self.at
            found = _BARE_KEY.match(self.text, start)
            if found is not None:
                self.at = found.end()
                name = found[0]
            else:
                self.token = start
                quoted = self._string()
                name = quoted[1:-1] if quoted[0] == "'" else _ESCAPE.sub(_unescaped, quoted[1:-1])
            parts.append((name, start, self.at))
            if len(parts) > MOST_NESTED:
                raise NestedTooDeep(f"nested deeper than {MOST_NESTED} levels")
            self._blank()
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1
            self._blank()

    def _blank(self) -> None:
        """Skip blanks on this line."""
        self.at = _BLANK.match(self.text, self.at).end()  # type: ignore[union-attr]

    def _gap(self) -> None:
        """Skip blanks, line ends and comments."""
        self.at = _GAP.match(self.text, self.at).end()  # type: ignore[union-attr]

    def _stuck(self, wanted: str) -> NoReturn:
        """Give up here."""
        line = self.text.count("\n", 0, self.at) + 1
        column = self.at - (self.text.rfind("\n", 0, self.at) + 1) + 1
        raise Stuck(f"line {line}, column {column}: not TOML; {wanted} is allowed here; ask read_toml for the fault")


def _unescaped(found: re.Match[str]) -> str:
    """Character that an escape in a quoted key stands for."""
    number = found[1] or found[2]
    if number is None:
        return _ESCAPED.get(found[3], found[3])
    code = int(number, 16)
    return chr(code) if code <= 0x10FFFF else found[0]
