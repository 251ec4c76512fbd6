"""What keeps a text from being TOML, said so that a maker can mend it.

The standard library's reader stops at the first fault with a short cause and a place. That place is often past the
mistake (a bracket left open shows up lines later), so the text is walked again up to there, and the walk tells what was
open.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from scanloom.basis.record import record
from scanloom.formats._toml_case import Case, Told, quoted, short
from scanloom.formats._toml_scan import MOST_NESTED
from scanloom.formats._toml_value_faults import (
    ON_ONE_LINE,
    after_statement,
    bad_character,
    bad_date,
    bad_escape,
    in_brackets,
    no_value,
)

_WHERE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_NAMES = "without quotes a name has letters a to z, digits, - and _"


@record
class Fault:
    """The first thing in a text that is not TOML.

    Parameters
    ----------
    line : int
        Line to look at, from 1. [1]
    column : int
        Column to look at, in characters from 1. [1]
    text : str
        What was given; what is allowed; what to do.
    cause : str
        The reader's own words, short.
    """

    line: int
    column: int
    text: str
    cause: str


def explain(text: str, message: str) -> Fault:
    """Fault in a text that the standard library's reader refused.

    Parameters
    ----------
    text : str
        The text.
    message : str
        The reader's message, which ends in ``(at line 3, column 1)`` or ``(at end of document)``.

    Returns
    -------
    Fault
        Place and sentence.
    """
    found = _WHERE.fullmatch(message)
    cause = found[1] if found else message
    at = len(text)
    if found and found[2]:
        start = 0
        for _ in range(int(found[2]) - 1):
            start = text.index("\n", start) + 1
        at = start + int(found[3]) - 1
    if _is_odd(text, at) and (text[at] == "\r" or "Expected newline" not in cause):
        case = Case(text, at, cause, at)
        return _fault(case, bad_character(case))
    for words, teller, whole_line in _TELLERS:
        if any(word in cause for word in words):
            upto = text.find("\n", at) if whole_line else at
            case = Case(text, at, cause, len(text) if upto < 0 else upto)
            return _fault(case, teller(case))
    return _fault(Case(text, at, cause, 0), Told(at, cause, "only TOML 1.0 is read", "mend this place"))


def too_deep(text: str, at: int) -> Fault:
    """Fault for key paths longer than `MOST_NESTED`.

    Parameters
    ----------
    text : str
        The text.
    at : int
        Characters before the place. [1]

    Returns
    -------
    Fault
        Place and sentence.
    """
    given = f"tables and lists nested deeper than {MOST_NESTED} levels"
    told = Told(at, given, "no more is read", "close the brackets left open before this")
    return _fault(Case(text, at, "nested too deeply", 0), told)


def too_long(text: str, message: str) -> Fault:
    """Fault for an integer with more digits than the interpreter takes.

    Parameters
    ----------
    text : str
        The text.
    message : str
        The interpreter's message.

    Returns
    -------
    Fault
        Place and sentence.
    """
    at = max(re.finditer(r"[0-9_]*", text), key=lambda found: len(found[0])).start()
    told = Told(at, "a number of thousands of digits", "up to 19 digits", "shorten it, or write it in quotes")
    return _fault(Case(text, at, message.split(";")[0], 0), told)


def _is_odd(text: str, at: int) -> bool:
    """Whether an invisible character stands here that is neither blank, tab nor line end."""
    char = text[at : at + 1]
    return bool(char) and not char.isprintable() and char not in "\t\n" and not text.startswith("\r\n", at)


def _fault(case: Case, told: Told) -> Fault:
    """Line and column for what was told."""
    column = told.at - case.line_start(told.at) + 1
    return Fault(case.line(told.at), column, f"{told.given}; {told.allowed}; {told.mend}", case.cause)


def _no_equals(case: Case) -> Told:
    """A key without '='."""
    start = case.scan.key
    line = case.rest(start)
    given = case.text[start : case.at].strip()
    rest = case.text[case.at : start + len(line)].strip()
    allowed = "a key and its value are joined by ="
    if not rest:
        return Told(start, f"{short(line)} has no value", allowed, "add = and a value, or begin a remark with #")
    if rest[0] == ":":
        return Told(case.at, f"a colon behind {given}", allowed, f"write {given} = {short(rest[1:].strip())}")
    if rest[0] in "\"'[{" or (rest[0].isdigit() and "=" not in rest):
        return Told(case.at, f"no = between {given} and its value", allowed, f"write {given} = {short(rest)}")
    if "=" in rest:
        return _bad_key(case, start)
    given = f"{short(line)} is neither key = value nor [table]"
    return Told(start, given, allowed, "begin a remark with #, or add = and a value")


def _bad_key(case: Case, start: int) -> Told:
    """A key with characters that need quotes."""
    key = short(case.rest(start).split("=")[0].strip())
    return Told(start, f"{key} is not a key", _NAMES, f"write {quoted(key)} =")


def _no_key(case: Case) -> Told:
    """No key begins here."""
    before = case.text[case.line_start(case.at) : case.at].strip()
    if case.scan.opened and case.char == "}":
        return Told(case.at, "a comma before }", ON_ONE_LINE, "delete the comma")
    if case.scan.opened and case.char in "\r\n#":
        given = "the table in braces opened here is not closed on its line"
        return Told(case.scan.opened[-1], given, ON_ONE_LINE, "join the lines, or give the table its own [name]")
    if case.char in "]=\r\n":  # also the end of the text
        given = "a dot without a name behind it" if before.endswith(".") else "no name here"
        return Told(case.at, given, "a key or table has a name", "write one")
    if before.startswith("[") and not case.scan.opened:
        return _no_bracket(case)
    return _bad_key(case, case.scan.key)


def _no_statement(case: Case) -> Told:
    """A line that begins with something else than a key, a bracket or a comment."""
    at, char = case.at, case.char
    if char == ";" or case.text.startswith("//", at):
        return Told(at, "a line that begins with ; or //", "a comment begins with #", "write # instead")
    if char == "=":
        return Told(at, "= without a key before it", "a line is key = value", "write the key")
    if char in "]},":
        return Told(at, f"{char} without an open bracket", "brackets come in pairs", "delete it, or open one before")
    return _bad_key(case, at)


def _twice(case: Case) -> Told:
    """A key or table given again."""
    if not case.scan.twice:
        return Told(case.at, case.cause, "a key or table is given once", "merge the two")
    path, first, second, kinds = case.scan.twice[-1]
    name = ".".join(part for part in path if isinstance(part, str))
    line = f"line {case.line(first)}"
    if kinds == ("value", "value"):
        given = f"{name} is there twice, first at {line}"
        return Told(second, given, "a key is given once", "delete one of the two")
    if kinds == ("header", "header"):
        given, mend = f"[{name}] is there twice, first at {line}", f"merge the two, or write [[{name}]] for entries"
        return Told(second, given, "a table is opened once", mend)
    if kinds == ("header", "entries"):
        given = f"[[{name}]] after [{name}] at {line}"
        return Told(second, given, "each entry has double brackets", f"write [[{name}]] both times")
    if kinds == ("entries", "header"):
        given = f"[{name}] after [[{name}]] at {line}"
        return Told(second, given, "each entry has double brackets", f"write [[{name}]]")
    given = f"{name} is already given at {line}"
    return Told(second, given, "it cannot be opened again in another form", "write the new keys there")


def _no_bracket(case: Case) -> Told:
    """A header without its closing bracket, or with a name that needs quotes."""
    start = case.line_start(case.at)
    start += len(case.text[start:]) - len(case.text[start:].lstrip(" \t"))
    line = case.line_rest(start)
    brackets = 2 if line.startswith("[[") else 1
    name = short(line.strip("[] \t"))
    if line.endswith("]" * brackets):
        right = "[" * brackets + quoted(name) + "]" * brackets
        return Told(start, f"{short(line)} is not a table's name", _NAMES, f"write {right}")
    right = "[" * brackets + name + "]" * brackets
    return Told(start, f"{short(line)} is not closed", "a table's name stands in brackets", f"write {right}")


# Words of the reader's message, who tells about it, and whether the walk goes on to the end of that line: the reader
# finds a header given twice before it reaches the closing bracket.
_TELLERS: tuple[tuple[tuple[str, ...], Callable[[Case], Told], bool], ...] = (
    (("Expected newline",), after_statement, False),
    (("Invalid value",), no_value, False),
    (("Unclosed array", "Unclosed inline table"), in_brackets, False),
    (("Expected '='",), _no_equals, False),
    (("Invalid initial character",), _no_key, False),
    (("Invalid statement",), _no_statement, False),
    (("twice", "overwrite a value", "Duplicate inline", "redefine namespace", "immutable namespace"), _twice, True),
    (("Expected ']'", "Expected ']]'"), _no_bracket, False),
    (("Illegal character", "invalid character", "Unterminated string", "Expected \"'"), bad_character, False),
    (("Unescaped", "Invalid hex", "Escaped character"), bad_escape, False),
    (("Invalid date",), bad_date, False),
)
