"""Places of keys and values, against the standard library's reader and against files with places counted by hand.

The grammar is that of "TOML v1.0.0" (toml.io); tomllib is an independent reader of it.
"""

from __future__ import annotations

import importlib.util
import re
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.formats.toml_places import (
    Fault,
    KeyPath,
    TomlText,
    read_toml,
    scan_places,
    source_line,
    syntax_fault,
)

DATA = Path(__file__).with_name("data")
DOSSIER = (DATA / "deep-station.toml").read_text(encoding="utf-8")
KEY_PART = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")


def beside(name: str) -> ModuleType:
    """Helper module of this folder; the folder is no package."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


toml = beside("toml_documents")


def nasty(name: str) -> str:
    return (DATA / f"nasty-{name}.toml").read_text(encoding="utf-8")


def check_places(text: str) -> None:
    """Same key paths as tomllib; each key and each value stands where its place says."""
    data, places = tomllib.loads(text), scan_places(text)
    assert set(places) == set(toml.paths(data))
    lines = text.split("\n")
    for path, place in places.items():
        if path and isinstance(path[-1], str):
            part = KEY_PART.match(lines[place.key_line - 1], place.key_column - 1)
            assert part is not None, path
            assert list(tomllib.loads(f"{part[0]} = 1")) == [path[-1]]
        if place.kind == "value":
            first, last = place.value_line - 1, place.value_end_line - 1
            inside = [*lines[first : last + 1]]
            inside[-1] = inside[-1][: place.value_end_column - 1]
            inside[0] = inside[0][place.value_column - 1 :]
            value = "\n".join(inside)
            assert value == text[place.value_start : place.value_end]
            assert toml.shown(tomllib.loads(f"x = {value}")["x"]) == toml.shown(toml.at(data, path)), path
            assert (place.line, place.column) == (place.value_line, place.value_column)
        elif place.kind == "header":
            assert lines[place.line - 1][place.column - 1] == "["
            assert text[place.value_start : place.value_end].endswith("]")


@settings(max_examples=1000, deadline=None)
@given(toml.documents())
def test_every_place_agrees_with_the_reader(text: str) -> None:
    assert syntax_fault(text) is None
    check_places(text)


@pytest.mark.parametrize("name", ["keys", "values", "tables"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_nasty_files_agree_with_the_reader(name: str, ends: str) -> None:
    check_places(nasty(name).replace("\n", ends))


# Counted by hand in an editor: key line and column, value line and column.
COUNTED: list[tuple[str, KeyPath, str, tuple[int, int], tuple[int, int]]] = [
    ("keys", ('é"\\ = # [x]',), "value", (5, 1), (5, 24)),
    ("keys", ("1979-05-27",), "value", (7, 1), (7, 14)),
    ("keys", ("a",), "dotted", (9, 2), (9, 2)),
    ("keys", ("a", "b.c", "d"), "value", (9, 13), (9, 19)),
    ("keys", ("a", "e", "f", "g", "i", 0, "j"), "value", (10, 29), (10, 33)),
    ("keys", ("a", "e", "f", "="), "value", (10, 40), (10, 46)),
    ("keys", ("ключ",), "value", (12, 1), (12, 10)),
    ("keys", ("3", "14"), "value", (16, 3), (16, 8)),
    ("values", ("c",), "value", (4, 1), (4, 5)),
    ("values", ("f", 4), "value", (10, 35), (10, 35)),
    ("values", ("f", 5, 1), "value", (11, 22), (11, 22)),
    ("values", ("f", 6, "x"), "value", (14, 5), (14, 9)),
    ("values", ("f", 7, 1, 0, 0), "value", (15, 14), (15, 14)),
    ("values", ("h", "b", "c", 0, "d"), "value", (18, 17), (18, 19)),
    ("values", ("j",), "value", (20, 1), (20, 5)),
    ("tables", ("a",), "header", (12, 2), (12, 1)),
    ("tables", ("a", "b"), "implied", (2, 4), (2, 4)),
    ("tables", ("list",), "entries", (4, 5), (4, 3)),
    ("tables", ("list", 0, "inner", 1, "z"), "value", (11, 3), (11, 7)),
    ("tables", ("list", 1), "header", (16, 3), (16, 1)),
    ("tables", ("list", 1, "inner", 0, "deep", "er"), "header", (20, 20), (20, 3)),
    ("tables", ("quoted table", "x"), "header", (14, 20), (14, 1)),
    ("tables", ("a", "b", "d", "static", 1, "z"), "value", (23, 25), (23, 29)),
    ("tables", ("a", "b2", "c3", "last"), "value", (25, 1), (25, 8)),
]


@pytest.mark.parametrize(("name", "path", "kind", "key", "value"), COUNTED)
def test_places_counted_by_hand(
    name: str, path: KeyPath, kind: str, key: tuple[int, int], value: tuple[int, int]
) -> None:
    place = scan_places(nasty(name))[path]
    assert place.kind == kind
    assert (place.key_line, place.key_column) == key
    assert (place.value_line, place.value_column) == value


def test_value_end_is_behind_the_last_character() -> None:
    place = scan_places(nasty("values"))[("d",)]
    assert (place.value_end_line, place.value_end_column) == (8, 6)
    place = scan_places(nasty("values"))[("i",)]
    assert (place.value_end_line, place.value_end_column) == (19, 25)


def test_nearest_is_the_longest_beginning_that_stands_in_the_text() -> None:
    places = scan_places(DOSSIER)
    assert places.nearest(("displays", 3, "cable", "length")) == places[("displays", 3)]
    assert places.nearest(("displays", 0, "cable", "length")) == places[("displays", 0, "cable")]
    assert places.nearest(("displays", 9, "cable")) == places[("displays",)]
    assert places.nearest(("nothing", 1)) == places[()]
    assert source_line(DOSSIER, places[("displays", 3)].line) == "[[displays]]"
    assert source_line(DOSSIER, places[("displays", 3)].line + 1) == 'name = "relay-2"'


def test_source_line_splits_at_line_feeds_only() -> None:
    text = "a = 'x\u2028y\x0b'\r\nb = 1\n"
    assert source_line(text, 1) == "a = 'x\u2028y\x0b'"
    assert source_line(text, 2) == "b = 1"
    assert source_line(text, 3) == ""
    for line in (0, -1, 4):
        with pytest.raises(ValueError, match="the text has 3 lines"):
            source_line(text, line)


def test_the_example_dossier_is_scanned_within_its_budget() -> None:
    text = DOSSIER + "".join(f"[extra-{n}]\nx = {{ a = [1, 2, 3], b = 'c' }}\n" for n in range(24))
    assert text.count("\n") >= 150
    scan_places(text)
    best = min(timed(lambda: scan_places(text)) for _ in range(30))
    assert best < 3e-3, f"{best * 1e3:.2f} ms"


def timed(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


@settings(max_examples=300, deadline=None)
@given(toml.documents(), st.data())
def test_damaged_texts_give_a_fault_or_agree_with_the_reader(text: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 3))
    new = data.draw(st.text(alphabet="\"'[]{}=,.#\\\n\r ax1\0\u00a0\ufeff", max_size=3))
    damaged = text[:at] + new + text[at + cut :]
    check_any(damaged)


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet=st.one_of(st.sampled_from("\"'[]{}=,.#\\\n\r\t ab01-_:T"), st.characters()), max_size=40))
def test_any_text_gives_a_fault_or_agrees_with_the_reader(text: str) -> None:
    check_any(text)


def check_any(text: str) -> None:
    """The verdict is tomllib's; a fault stands inside the text; the scanner alone gives places or ValueError."""
    found = read_toml(text)
    if toml.readable(text):
        assert isinstance(found, TomlText)
        check_places(text)
        return
    assert isinstance(found, Fault)
    line = source_line(text, found.line)
    assert 1 <= found.column <= len(line) + 2  # a carriage return or the line end itself may be meant
    assert found.text.count(";") >= 2
    assert found.cause
    try:
        scan_places(text)
    except ValueError as error:
        assert "line" in str(error) or "nested" in str(error)


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 200_000,
        "a = " + "{a = " * 100_000,
        "a" + ".a" * 200_000 + " = 1",
        "[a" + ".a" * 200_000 + "]",
        'a = "' + '\\"' * 200_000,
        "a = '''" + "''x" * 200_000,
        'a = """' + '""x' * 200_000,
        "a = [" + "#\n" * 200_000,
        "a = [" + "1 , " * 20_000,
        " \t" * 200_000 + "?",
        "a = " + "9" * 200_000,
    ],
)
def test_hostile_texts_end_soon(text: str) -> None:
    start = time.perf_counter()
    fault = syntax_fault(text)
    assert time.perf_counter() - start < 2.0
    assert fault is not None


def test_nesting_is_read_to_one_hundred_levels() -> None:
    assert syntax_fault("a = " + "[" * 98 + "]" * 98) is None
    deep = syntax_fault("a = " + "[" * 101 + "]" * 101)
    assert deep is not None and "100 levels" in deep.text
    keys = syntax_fault(".".join("a" * 101) + " = 1")
    assert keys is not None and "100 levels" in keys.text


# Text; line and column to look at (counted by hand); words that must be in the sentence.
FAULTS: list[tuple[str, tuple[int, int], str]] = [
    ("drive = 20 mA", (1, 9), 'write it in quotes: drive = "20 mA"'),
    ("drive = 20 mA; because x   # why", (1, 9), 'drive = "20 mA; because x"'),
    ("[a]\nx = 4k7", (2, 5), 'x = "4k7"'),
    ("files = fab/rev-b", (1, 9), 'files = "fab/rev-b"'),
    ("x = [1, 20 mA]", (1, 9), '"20 mA"'),
    ("x = { h = 26, v = 20 mA }", (1, 19), '"20 mA"'),
    ('cable = thin, 10 m"\ny = 2', (1, 9), 'cable = "thin, 10 m"'),
    ("x = \u201cthin\u201d", (1, 5), 'x = "thin"'),
    ('cable = "thin, 10 m\ny = 2', (1, 9), 'no closing "'),
    ('cable = "thin, 10 m\r\ny = 2\r\n', (1, 9), 'no closing "'),
    ("a = 'x\nb = 'y'", (1, 5), "no closing '"),
    ("a = 1\nb = '", (2, 5), "no closing '"),
    ('a = """ never\nclosed', (1, 5), 'no closing """'),
    ('x = "thin, 3 m"; said', (1, 16), 'write it inside: "thin, 3 m; said"'),
    ('x = ["thin, 3 m"; said, "b"]', (1, 17), "write it inside the quotes"),
    ('x = "15" screen"', (1, 10), 'write \\" if the text holds quotes'),
    ("x = 'it's'", (1, 9), "the text in double quotes"),
    ("x = [5, 4\ngreen = 3", (1, 5), "the list opened here runs on to line 2"),
    ("x = [5, 4,\ngreen = 3", (1, 5), "the list opened here runs on to line 2"),
    ("x = [5, 4,\n[chip]\ny = 1", (1, 5), "the list opened here runs on to line 2"),
    ("x = [5, 4\n[[chip]]\ny = 1", (1, 5), "the list opened here runs on to line 2"),
    ("x = [[1, 2], [3, 4]\ny = 3", (1, 5), "write the missing ]"),
    ("x = [1, 2", (1, 5), "runs on to the end of the file"),
    ("x = { a = 1", (1, 5), "write the missing }"),
    ('x = [\n "a",\n "b"\n "c"\n]', (4, 2), "no comma before this"),
    ("x = { h = 26 v = 27 }", (1, 14), "no comma before this"),
    ("x = { h = 26, v = 27, }", (1, 23), "a comma before }"),
    ("x = { h = 26,\nv = 27 }", (1, 5), "ends on the line where it began"),
    ("x = { h = 26 # c\n}", (1, 5), "ends on the line where it began"),
    ("x = [ { h = 26 ], 3 ]", (1, 16), "] where } belongs"),
    ("x = [1, 2}", (1, 10), "} where ] belongs"),
    ("x = [1,, 2]", (1, 8), "a comma without an item"),
    ('drive "20 mA"', (1, 7), 'write drive = "20 mA"'),
    ("drive: 20", (1, 6), "write drive = 20"),
    ("x = { h 26 }", (1, 9), "write h = 26"),
    ("drive", (1, 1), "drive has no value"),
    ("some words here", (1, 1), "begin a remark with #"),
    ("two words = 3", (1, 1), 'write "two words" ='),
    ("gr\u00f6\u00dfe = 3", (1, 1), 'write "gr\u00f6\u00dfe" ='),
    ("\u00e4rger = 3", (1, 1), 'write "\u00e4rger" ='),
    ("; remark", (1, 1), "a comment begins with #"),
    ("// remark", (1, 1), "a comment begins with #"),
    (" = 3", (1, 2), "write the key"),
    ("a = 1\n]", (2, 1), "without an open bracket"),
    ("x = True", (1, 5), "write x = true"),
    ("x = no", (1, 5), "write x = false"),
    ("x = null", (1, 5), "leave the key out"),
    ("x =\ny = 2", (1, 4), "no value here"),
    ("x = .5", (1, 5), "write x = 0.5"),
    ("x = -5.", (1, 5), "write x = -5.0"),
    ("x = 3,3", (1, 5), "write x = 3.3"),
    ("x = 007", (1, 5), 'write x = 7, or "007" if it is a name'),
    ("date = 2031-3-14", (1, 8), "write date = 2031-03-14"),
    ("date = 2031-02-30", (1, 8), "in no calendar"),
    ('x = "a" y = 2', (1, 9), "a line holds one key"),
    ('[chip] like = "x"', (1, 8), "move it to the next line"),
    ("[chip\nx = 1", (1, 1), "write [chip]"),
    ("[[displays]\nx = 1", (1, 1), "write [[displays]]"),
    ("[two words]", (1, 1), 'write ["two words"]'),
    ("[]", (1, 2), "no name here"),
    ("[a.]", (1, 4), "a dot without a name"),
    ("a = 1\nb = 2\n  a = 3", (3, 3), "a is there twice, first at line 1"),
    ("[chip]\nx = 1\n[other]\n[chip]", (4, 2), "[chip] is there twice, first at line 1"),
    ("x = { b = 1, b = 2 }", (1, 14), "x.b is there twice, first at line 1"),
    ("[[d]]\n[d]", (2, 2), "write [[d]]"),
    ("[d]\n[[d]]", (2, 3), "write [[d]] both times"),
    ("a = { b = 1 }\na.c = 2", (2, 1), "a is already given at line 1"),
    ("a = 1\n[a.b]", (2, 2), "a is already given at line 1"),
    ("[a.b]\nx = 1\n[a]\nb.y = 2", (4, 1), "a.b is already given at line 1"),
    ('x = "C:\\data"', (1, 8), "write \\\\ for a backslash"),
    ('x = "\\u12"', (1, 6), "\\uXXXX"),
    ('x = "\\ud800"', (1, 6), "\\uXXXX"),
    ('a = "x\x07y"', (1, 7), "U+0007"),
    ("# a comment with \x0b", (1, 18), "U+000B"),
    ("x =\u00a05", (1, 4), "U+00A0"),
    ("\ufeffa = 1", (1, 1), "U+FEFF"),
    ("a = 1\rb = 2\r", (1, 6), "lines end with LF or CR LF"),
    ("x = " + "9" * 5000, (1, 5), "up to 19 digits"),
]


@pytest.mark.parametrize(("text", "place", "words"), FAULTS)
def test_faults_say_where_and_what_to_do(text: str, place: tuple[int, int], words: str) -> None:
    fault = syntax_fault(text)
    assert fault is not None
    assert (fault.line, fault.column) == place, fault
    assert words in fault.text, fault
    assert fault.text.count(";") >= 2, "what was given; what is allowed; what to do"
    assert "(at " not in fault.cause


@pytest.mark.parametrize(
    "text", [text for text, _, words in FAULTS if re.search(r"write (it in quotes: )?\w+ = ", words)]
)
def test_the_line_that_a_fault_proposes_is_toml(text: str) -> None:
    fault = syntax_fault(text)
    assert fault is not None
    proposed = re.search(r"write (?:it in quotes: )?(\w+ = .*?)(?:, or .*)?$", fault.text)
    assert proposed is not None
    tomllib.loads(proposed[1])


def test_an_unknown_complaint_of_the_reader_is_passed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    def complain(_: str) -> None:
        raise tomllib.TOMLDecodeError("Something new (at line 2, column 3)")

    monkeypatch.setattr(tomllib, "loads", complain)
    fault = syntax_fault("a = 1\nb = 2\n")
    assert fault is not None
    assert (fault.line, fault.column, fault.cause) == (2, 3, "Something new")
