"""One text that is not TOML, opened for questions: where the reader stopped, and what was open there."""

from __future__ import annotations

import contextlib
import re
from typing import NamedTuple

from scanloom.formats._toml_scan import Scanner, Stuck

KEY_AND_EQUALS = re.compile(r"""[ \t]*(?:[A-Za-z0-9_.-]+|"[^"\n]*"|'[^'\n]*')[ \t]*=""")
_HEADER_LINE = re.compile(r"\[\[?[ \t]*[A-Za-z0-9_.\"'-]+[ \t]*\]?\][ \t]*(?:#.*)?\r?$", re.MULTILINE)
_TO_LINE_END = re.compile(r"[^#\n]*")
_TO_COMMA = re.compile(r"[^#\n,\]}]*")
TYPOGRAPHIC_QUOTES = "\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb"


class Told(NamedTuple):
    """What a fault is about: characters before it, what was given, what is allowed, what to do."""

    at: int
    given: str
    allowed: str
    mend: str


class Case:
    """One failure of the reader, with a walk through the text up to there.

    Parameters
    ----------
    text : str
        The text.
    at : int
        Characters before the place where the reader stopped. [1]
    cause : str
        The reader's words.
    upto : int
        Characters to walk. [1]
    """

    def __init__(self, text: str, at: int, cause: str, upto: int) -> None:
        self.text = text
        self.at = at
        self.cause = cause
        self.char = text[at : at + 1]
        self.scan = Scanner(text[:upto])
        with contextlib.suppress(Stuck):  # expected: the walk is wanted for what it knows when it stops
            self.scan.run()

    def line(self, at: int) -> int:
        """Line of a character, from 1."""
        return self.text.count("\n", 0, at) + 1

    def line_start(self, at: int) -> int:
        """First character of a line."""
        return self.text.rfind("\n", 0, at) + 1

    def rest(self, at: int) -> str:
        """What follows on the line, without comment; inside brackets up to the next comma or bracket."""
        found = (_TO_COMMA if self.scan.opened else _TO_LINE_END).match(self.text, at)
        return found[0].strip() if found else ""

    def line_rest(self, at: int) -> str:
        """What follows on the line, without comment."""
        found = _TO_LINE_END.match(self.text, at)
        return found[0].strip() if found else ""

    def is_header(self, at: int) -> bool:
        """Whether a line begins here that reads like a table's header."""
        return at == self.line_start(at) and _HEADER_LINE.match(self.text, at) is not None

    def is_next_statement(self) -> bool:
        """Whether the reader stopped, inside brackets, at a line that reads like the next key or table."""
        if self.is_header(self.at):
            return True
        begins_line = not self.text[self.line_start(self.at) : self.at].strip()
        in_list = self.text[self.scan.opened[-1]] == "["
        return in_list and begins_line and KEY_AND_EQUALS.match(self.text, self.at) is not None


def quoted(word: str) -> str:
    """Word as a text in quotes, whichever half of its quotes it had."""
    word = word.strip().strip('"' + TYPOGRAPHIC_QUOTES)
    if word.startswith("'") or word.endswith("'"):
        word = word.strip("'")
    if ('"' in word or "\\" in word) and "'" not in word:
        return f"'{word}'"
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'


def short(word: str) -> str:
    """Word, cut so that it fits a sentence."""
    return word if len(word) <= 60 else word[:57] + "..."
