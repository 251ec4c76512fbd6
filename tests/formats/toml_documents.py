"""Random TOML documents: valid by the standard library's reader, and as awkward as TOML 1.0 allows."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator
from typing import Any

from hypothesis import strategies as st

KeyPath = tuple[str | int, ...]

BARE = ["a", "b", "c", "chip", "x-1", "_", "1", "2031-01-09", "true", "inf"]
QUOTED = [
    '"a"',
    "'b'",
    '"a.b"',
    "'# no'",
    '""',
    "''",
    r'"\u00e9\n\t\"\\"',
    r'"\U0001F600"',
    "'[x]'",
    '"ключ = 1"',
    "'\\'",
]
NUMBERS = [
    "0",
    "+0",
    "-17",
    "1_000",
    "0xDEAD_beef",
    "0o755",
    "0b1101",
    "1.5",
    "-0.0",
    "5e+22",
    "6.626e-34",
    "1_0.2_5E1",
]
NUMBERS += ["inf", "-inf", "+inf", "nan", "-nan", "9223372036854775807"]
DATES = ["1979-05-27T07:32:00Z", "1979-05-27 07:32:00.5", "1979-05-27t00:32:00.999999-07:00", "1979-05-27 00:32:00z"]
DATES += ["1979-05-27", "07:32:00", "00:32:00.999999", "1979-05-27T07:32:00"]
LETTERS = [*"ab #=,.;[]{}", "é", "Ω", "±", "😀", "\t", "\u2028", "\u0085", "\ufeff", "'"]
ESCAPES = ['\\"', "\\\\", "\\n", "\\t", "\\r", "\\b", "\\f", "\\u0041", "\\U0001F600", "\\u007f"]


class Writer:
    """Writes one document, with a comment number that no other comment has."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.comments = 0

    def odds(self, share: float) -> bool:
        return self.chance.random() < share

    def some(self, items: list[str], most: int) -> str:
        return "".join(self.chance.choice(items) for _ in range(self.chance.randint(0, most)))

    def comment(self) -> str:
        self.comments += 1
        return f"# c{self.comments}c " + self.chance.choice(["", "é Ω", 'x = "1"', "[a]", "'", '"""', "]", "}, #"])

    def blank(self) -> str:
        return self.chance.choice(["", "", " ", "  ", "\t"])

    def key_part(self) -> str:
        return self.chance.choice(QUOTED if self.odds(0.2) else BARE)

    def key(self, dotted: float) -> str:
        parts = [self.key_part()]
        while self.odds(dotted) and len(parts) < 4:
            parts.append(self.key_part())
        dot = self.chance.choice([".", ".", " . ", ". "])
        return dot.join(parts)

    def string(self) -> str:
        kind = self.chance.randrange(5)
        if kind < 2:
            return '"' + self.some([*LETTERS, *ESCAPES, "'"], 8) + '"'
        if kind == 2:
            return "'" + self.some([*[x for x in LETTERS if x != "'"], '"', "\\"], 8) + "'"
        first = self.chance.choice(["", "\n"])
        if kind == 3:
            body = self.some(
                [*LETTERS, *ESCAPES, "\n", '"x', '""x', "'''", "\\\n  ", "\\  \n\n ", "\n[a]\n", "\n# no\n"], 8
            )
            return '"""' + first + body + self.chance.choice(["", '\\"', '"', '""']) + '"""'
        body = self.some([x for x in LETTERS if x != "'"] + ["\n", "'x", "''x", '"""', "\\", "\nb = 1\n"], 8)
        return "'''" + first + body + self.chance.choice(["", "'", "''"]) + "'''"

    def gap(self) -> str:
        """White space between the items of a list."""
        out = self.blank()
        while self.odds(0.3):
            out += self.blank() + (self.comment() if self.odds(0.4) else "") + "\n" + self.blank()
        return out

    def value(self, deep: int = 3) -> str:
        kind = self.chance.randrange(10)
        if deep and kind == 0:
            items = [self.value(deep - 1) for _ in range(self.chance.randint(0, 4))]
            body = "".join(self.gap() + item + self.gap() + "," for item in items)
            if items and self.odds(0.6):
                body = body[:-1]
            return "[" + body + self.gap() + "]"
        if deep and kind == 1:
            pairs = [self.pair(0.3, deep - 1) for _ in range(self.chance.randint(0, 4))]
            kept: list[str] = []
            for pair in pairs:
                if readable("x = {" + ",".join([*kept, pair]) + "}"):
                    kept.append(pair)
            return "{" + ",".join(self.blank() + pair + self.blank() for pair in kept) + self.blank() + "}"
        if kind < 5:
            return self.string()
        return self.chance.choice([*NUMBERS, *DATES, "true", "false"])

    def pair(self, dotted: float, deep: int = 3) -> str:
        return self.key(dotted) + self.blank() + "=" + self.blank() + self.value(deep)

    def statement(self) -> str:
        kind = self.chance.randrange(10)
        start, end = self.blank(), self.blank() + (self.comment() if self.odds(0.3) else "")
        if kind == 0:
            return self.blank()
        if kind == 1:
            return start + self.comment()
        if kind == 2:
            return start + "[" + self.blank() + self.key(0.4) + self.blank() + "]" + end
        if kind == 3:
            return start + "[[" + self.blank() + self.key(0.3) + self.blank() + "]]" + end
        return start + self.pair(0.3) + end

    def document(self, statements: int) -> str:
        lines: list[str] = []
        for _ in range(statements):
            line = self.statement()
            if readable("\n".join([*lines, line])):
                lines.append(line)
        text = "\n".join(lines) + self.chance.choice(["", "\n", "\n", "\n\n"])
        ends = self.chance.choice(["\n", "\n", "\r\n", "mixed"])
        if ends == "mixed":
            return "".join(self.chance.choice(["\n", "\r\n"]) if char == "\n" else char for char in text)
        return text.replace("\n", ends)


def readable(text: str) -> bool:
    """Whether the standard library's reader takes a text."""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def documents() -> st.SearchStrategy[str]:
    """Random valid documents; a seed is ten times faster than drawing each choice, and statements still shrink."""
    seeds = st.integers(0, 2**32 - 1)
    return st.builds(lambda seed, most: Writer(random.Random(seed)).document(most), seeds, st.integers(0, 16))


def paths(data: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key path of what the standard library's reader gave."""
    yield path
    if isinstance(data, dict):
        for key, value in data.items():
            yield from paths(value, (*path, key))
    elif isinstance(data, list):
        for number, value in enumerate(data):
            yield from paths(value, (*path, number))


def at(data: Any, path: KeyPath) -> Any:
    """What stands at a key path."""
    for step in path:
        data = data[step]
    return data


def shown(data: Any) -> str:
    """Values with their types: 1 is not 1.0, 0.0 not -0.0, nan equals nan; tables regardless of order."""
    if isinstance(data, dict):
        return "{" + ",".join(f"{key!r}:{shown(data[key])}" for key in sorted(data)) + "}"
    if isinstance(data, list):
        return "[" + ",".join(shown(item) for item in data) + "]"
    return repr(data)
