"""Single changes to a TOML text that leave every character outside them alone.

Each function gives the whole new text. None of them asks whether the outcome is still TOML: `toml_edit` reads it again.
"""

from __future__ import annotations

import re

from scanloom.formats._toml_scan import KeyPath, Span, Statement
from scanloom.formats.text_file import line_end
from scanloom.formats.toml_places import Places
from scanloom.formats.toml_value import write_key

_GAP = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_TAIL = re.compile(r"[ \t]*+(?:#[^\r\n]*+(?:\r(?!\n)[^\r\n]*+)*+)?+")  # blanks and comment, up to the line end
_LINE_BREAK = re.compile(r"\r?\n|\Z")
_BLANK_LINE_BEFORE = re.compile(r"\n[ \t]*\r?\n\Z")


def replaced(text: str, start: int, end: int, new: str) -> str:
    """Text with some characters replaced."""
    return text[:start] + new + text[end:]


def add_line(text: str, places: Places, table: KeyPath, key: str, value: str) -> str:
    """Text with a key and its value at the end of a table: `table` has a header, dotted keys or is the document."""
    span = places.spans[table]
    if span.kind == "implied":
        return _add_header(text, places, table, f"{key} = {value}")
    body = _body(places, span.owner)
    relative = names(table[len(span.owner) :])
    line = (write_key(*relative) + "." if relative else "") + f"{key} = {value}"
    if not body:
        return _add_first(text, places, line)
    anchor = next((s for s in reversed(body) if relative and s.path[: len(table)] == table), body[-1])
    at = _tail(text, anchor.end)
    return replaced(text, at, at, line_end(text) + _indent(text, anchor.start) + line)


def add_pair(text: str, places: Places, table: KeyPath, key: str, value: str) -> str:
    """Text with a key and its value at the end of a table in braces, or of a dotted table inside one."""
    owner = table if table in places.members else places.spans[table].owner
    relative = names(table[len(owner) :])
    pair = (write_key(*relative) + "." if relative else "") + f"{key} = {value}"
    members = places.members[owner]
    if not members:
        span = places.spans[owner]
        return replaced(text, span.start, span.end, "{ " + pair + " }")
    return replaced(text, members[-1].end, members[-1].end, ", " + pair)


def add_item(text: str, places: Places, path: KeyPath, value: str) -> str:
    """Text with a value at the end of a list in brackets; on a line of its own where the list has such lines."""
    span, members = places.spans[path], places.members[path]
    if not members:
        return replaced(text, span.start + 1, span.start + 1, value)
    last = members[-1]
    if "\n" not in text[span.start : last.start]:
        return replaced(text, last.end, last.end, ", " + value)
    comma = _gap(text, last.end)
    has_comma = text[comma] == ","
    at = _tail(text, comma + 1 if has_comma else last.end)
    text = replaced(text, at, at, line_end(text) + _indent(text, last.start) + value + ("," if has_comma else ""))
    return text if has_comma else replaced(text, last.end, last.end, ",")


def add_block(text: str, places: Places, header: str, lines: list[str], after: KeyPath = ()) -> str:
    """Text with a new table behind the last line of another one, or at the end of the text."""
    end = line_end(text)
    headers = [s for s in places.statements if s.is_header]
    apart = bool(headers) and _is_apart(text, places, headers[-1])
    if after:
        inside = [s for s in places.statements if s.path[: len(after)] == after]
        at = _tail(text, inside[-1].end)
        return replaced(text, at, at, (end + end if apart else end) + end.join([header, *lines]))
    before = "" if not text or text.endswith("\n") else end
    if apart and not _BLANK_LINE_BEFORE.search(text):
        before += end
    return text + before + end.join([header, *lines]) + end


def without(text: str, places: Places, path: KeyPath) -> str:
    """Text without a key, an item, or a table with everything below it."""
    span = places.spans[path]
    if span.kind in ("value", "dotted") and span.owner in places.members:
        members = places.members[span.owner]
        numbers = [n for n, member in enumerate(members) if member.path[: len(path)] == path]
        for number in reversed(numbers):
            text = _without_member(text, members[: number + 1], places.spans[span.owner])
        return text
    runs: list[list[Statement]] = []
    for number, statement in enumerate(places.statements):
        if statement.path[: len(path)] == path:
            if number and runs and runs[-1][-1] is places.statements[number - 1]:
                runs[-1].append(statement)
            else:
                runs.append([statement])
    for run in reversed(runs):
        text = replaced(text, _line_start(text, run[0].start), _next_line(text, run[-1].end), "")
    return text


def names(path: KeyPath) -> list[str]:
    """Names of a path, without the numbers of entries."""
    return [part for part in path if isinstance(part, str)]


def _without_member(text: str, upto: list[Statement], container: Span) -> str:
    """Text without the last of these members of a list or of a table in braces, and without one comma."""
    member = upto[-1]
    after = _gap(text, member.end)
    if text[after] == ",":
        if after > _tail(text, member.end):  # a comment or line end stands before the comma
            text = replaced(text, after, after + 1, "")
            return replaced(text, member.start, member.end, "")
        end = after + 1
    elif len(upto) > 1 and "\n" not in text[upto[-2].end : member.start]:
        return replaced(text, upto[-2].end, member.end, "")
    else:
        end = member.end  # the comma before it may stay in a list
    start = _line_start(text, member.start)
    alone = start > container.start and not text[start : member.start].strip()
    tail = _tail(text, end)
    if alone and text.startswith(("\n", "\r\n"), tail):
        return replaced(text, start, _next_line(text, end), "")
    end += len(text[end:tail]) - len(text[end:tail].lstrip(" \t"))
    begin = member.start
    while text.startswith(("\n", "\r\n"), end) and text[begin - 1] in " \t":
        begin -= 1  # no blanks at the end of a line
    return replaced(text, begin, end, "")


def _add_header(text: str, places: Places, table: KeyPath, line: str) -> str:
    """Text with a header for a table that so far only longer headers bring into being, before the first of them."""
    number = next(n for n, s in enumerate(places.statements) if s.is_header and s.path[: len(table)] == table)
    at = _above(text, places, number)
    end = line_end(text)
    return replaced(text, at, at, f"[{write_key(*names(table))}]{end}{line}{end}")


def _add_first(text: str, places: Places, line: str) -> str:
    """Text with a first line before all tables."""
    end = line_end(text)
    if places.statements:
        at = _above(text, places, 0)
        return replaced(text, at, at, line + end)
    return text + ("" if not text or text.endswith("\n") else end) + line + end


def _body(places: Places, owner: KeyPath) -> list[Statement]:
    """Header of a table with the lines below it; for the document, the lines before the first header."""
    body: list[Statement] = []
    inside = not owner
    for statement in places.statements:
        if statement.is_header:
            inside = statement.path == owner
        if inside:
            body.append(statement)
    return body


def _above(text: str, places: Places, number: int) -> int:
    """Where to write above a statement: above the comment lines right before it, unless they begin the file."""
    floor = places.statements[number - 1].end if number else 0
    start = at = _line_start(text, places.statements[number].start)
    while at > floor:
        previous = _line_start(text, at - 1)
        if previous < floor or not text[previous:at].lstrip().startswith("#"):
            break
        at = previous
    return at or start


def _is_apart(text: str, places: Places, header: Statement) -> bool:
    """Whether a blank line stands before a header and its comment."""
    return _BLANK_LINE_BEFORE.search(text[: _above(text, places, places.statements.index(header))]) is not None


def _line_start(text: str, at: int) -> int:
    """First character of a line."""
    return text.rfind("\n", 0, at) + 1


def _indent(text: str, at: int) -> str:
    """Blanks that begin a line."""
    line = text[_line_start(text, at) : at]
    return line[: len(line) - len(line.lstrip(" \t"))]


def _gap(text: str, at: int) -> int:
    """First character that is neither blank, line end nor comment."""
    return _end(_GAP, text, at)


def _tail(text: str, at: int) -> int:
    """End of a line behind blanks and comment, before its line end."""
    return _end(_TAIL, text, at)


def _next_line(text: str, at: int) -> int:
    """First character of the next line."""
    return _end(_LINE_BREAK, text, _tail(text, at))


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    """End of a match that always is one."""
    found = pattern.match(text, at)
    return at if found is None else found.end()
