"""Sentences for faults in values: missing quotes, brackets left open, characters that no text may hold."""

from __future__ import annotations

import re

from scanloom.formats._toml_case import KEY_AND_EQUALS, TYPOGRAPHIC_QUOTES, Case, Told, quoted, short

YES_AND_NO = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
ON_ONE_LINE = "a table in braces ends on the line where it began, with no comment and no comma before }"


def unquoted(case: Case, start: int) -> Told:
    """A value that is none because it has no quotes, or is misspelt."""
    word = case.rest(start)
    shown, low = short(word), word.lower()
    lead = "" if case.scan.opened else case.text[case.line_start(start) : start].strip() + " "
    if not word:
        return Told(start, "no value here", "a number, true, false, a date or a text in quotes", "write one")
    if word[0] in TYPOGRAPHIC_QUOTES:
        return Told(start, "typographic quotes", "only straight ones are read", f"write {lead}{quoted(shown)}")
    if low in YES_AND_NO:
        allowed = "a yes or no is written true or false, in small letters"
        return Told(start, shown, allowed, f"write {lead}{YES_AND_NO[low]}")
    if low in {"null", "none", "nil"}:
        return Told(start, shown, "there is no empty value", "leave the key out")
    if re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", word):
        year, month, day = word.split("-")
        allowed = "a date has two digits each for month and day"
        return Told(start, shown, allowed, f"write {lead}{year}-{month:0>2}-{day:0>2}")
    if re.fullmatch(r"[+-]?0[0-9]{1,20}", word):
        mend = f"write {lead}{int(word)}, or {quoted(word)} if it is a name"
        return Told(start, shown, "a number does not begin with 0", mend)
    if re.fullmatch(r"[+-]?(\.\d+|\d+\.)", word):
        sign, digits = ("-" if word[0] == "-" else ""), word.lstrip("+-")
        full = "0" + digits if digits[0] == "." else digits + "0"
        return Told(start, shown, "a number has digits on both sides of its point", f"write {lead}{sign}{full}")
    if not case.scan.opened and re.fullmatch(r"[+-]?\d+,\d+", word):
        return Told(start, shown, "a number has a decimal point", f"write {lead}{word.replace(',', '.')}")
    allowed = "only numbers, true, false and dates stand without quotes"
    return Told(start, f"{shown} has no quotes", allowed, f"write it in quotes: {lead}{quoted(shown)}")


def after_statement(case: Case) -> Told:
    """Something follows a header or a value on its line."""
    last, rest = case.scan.statements[-1], short(case.rest(case.at))
    start = case.scan.spans[last.path].start
    value = case.text[start : last.end]
    if last.is_header:
        given = f"{rest} behind {value}"
        return Told(case.at, given, "only a comment may follow a table's name", "move it to the next line")
    if KEY_AND_EQUALS.match(rest):
        return Told(case.at, "a second key on this line", "a line holds one key", "begin a new line here")
    if value[0] in "[{":
        return Told(case.at, f"{rest} behind the closing bracket", "only a comment may follow", "delete it")
    if value[0] not in "\"'":
        return unquoted(case, start)
    if rest.startswith(";"):
        mend = f"write it inside: {quoted(short(value[1:-1] + rest))}"
        return Told(case.at, f"{rest} behind the closing quote", "a value is one text", mend)
    inside = '\\"' if value[0] == '"' else "the text in double quotes"
    mend = f"delete it, or write {inside} if the text holds quotes"
    return Told(case.at, f"{rest} behind the closing quote", "a text ends at the quote it began with", mend)


def left_open(case: Case, opened: int) -> Told:
    """A bracket without its partner."""
    kind, partner = ("list", "]") if case.text[opened] == "[" else ("table in braces", "}")
    end = "the end of the file" if case.at >= len(case.text) else f"line {case.line(case.at)}"
    given = f"the {kind} opened here runs on to {end}"
    return Told(opened, given, "each bracket is closed", f"write the missing {partner}")


def in_brackets(case: Case) -> Told:
    """Something other than a comma or the closing bracket follows an item."""
    opened, start, char = case.scan.opened[-1], case.scan.token, case.char
    in_list = case.text[opened] == "["
    if not char or case.is_next_statement():
        return left_open(case, opened)
    if not in_list and char in "\r\n#":
        given = "the table in braces opened here is not closed on its line"
        return Told(opened, given, ON_ONE_LINE, "join the lines, or give the table its own [name]")
    item_is_text = case.text[start] in "\"'"
    if char == ";" and item_is_text:
        given = f"{short(case.rest(case.at))} behind the closing quote"
        return Told(case.at, given, "a value is one text", "write it inside the quotes")
    if char in "]}":
        right = "]" if in_list else "}"
        opener = f"the {case.text[opened]} of line {case.line(opened)}"
        return Told(case.at, f"{char} where {right} belongs", f"{opener} is closed first", f"write {right}")
    item_is_bare = not item_is_text and case.text[start] not in "[{" and "\n" not in case.text[start : case.at]
    if item_is_bare and char not in "\"'[{" and not KEY_AND_EQUALS.match(case.text, case.at):
        return unquoted(case, start)
    return Told(case.at, "no comma before this", "items are separated by commas", "write one")


def no_value(case: Case) -> Told:
    """Nothing that is a value begins here."""
    opened = case.scan.opened
    if opened and (not case.char or case.is_next_statement()):
        return left_open(case, opened[-1])
    if len(opened) > 1 and case.is_header(opened[-1]):
        return left_open(case, opened[-2])  # the next table's header was taken for a list in the list
    if opened and case.char == "," and case.text[opened[-1]] == "[":
        given = "a comma without an item before it"
        return Told(case.at, given, "one comma stands between two items", "delete it")
    return unquoted(case, case.at)


def bad_character(case: Case) -> Told:
    """A text without its closing quote, or a character that no text may hold."""
    if not case.char or case.char == "\n" or case.text.startswith("\r\n", case.at):
        marks = ('"""', "'''", '"', "'")
        mark = next((m for m in marks if case.text.startswith(m, case.scan.token)), '"')
        where = "ends with three quotes" if len(mark) == 3 else "ends on its line with the quote it began with"
        given = f"the text that begins here has no closing {mark}"
        return Told(case.scan.token, given, f"a text {where}", "write it")
    if case.char == "\r":
        given = "a carriage return without a line feed"
        return Told(case.at, given, "lines end with LF or CR LF", "save the file with such line ends")
    given = f"the invisible character U+{ord(case.char):04X}"
    return Told(case.at, given, "only blanks, tabs and line ends are allowed", "delete it")


def bad_escape(case: Case) -> Told:
    """A backslash that begins no known escape."""
    at = max(case.text.rfind("\\", 0, case.at), 0)
    given = f"{case.text[at : at + 2].strip()} in a text"
    allowed = 'between double quotes \\\\ \\" \\n \\t \\uXXXX may stand'
    return Told(at, given, allowed, "write \\\\ for a backslash, or / in a path")


def bad_date(case: Case) -> Told:
    """A date that is in no calendar."""
    given = f"{short(case.rest(case.at))} is in no calendar"
    return Told(case.at, given, "a date is year-month-day", "write a day that exists")
