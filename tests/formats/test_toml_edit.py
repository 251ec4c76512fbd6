"""Changes to TOML texts: only the asked value changes, and nothing else in the text.

The judge is tomllib, an independent reader of "TOML v1.0.0" (toml.io), before and after each change.
"""

from __future__ import annotations

import copy
import datetime
import importlib.util
import itertools
import random
import re
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.formats import _toml_splice as toml_splice
from scanloom.formats.toml_edit import append_table, delete_value, set_value
from scanloom.formats.toml_places import KeyPath, scan_places
from scanloom.formats.toml_value import write_key, write_value

DOSSIER = (Path(__file__).with_name("data") / "deep-station.toml").read_text(encoding="utf-8")


def beside(name: str) -> ModuleType:
    """Helper module of this folder; the folder is no package."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


toml = beside("toml_documents")

UTC = datetime.UTC
WEST = datetime.timezone(-datetime.timedelta(hours=3, minutes=30))


def unfolded(moment: Any) -> Any:
    """TOML cannot say which of two equal times of a clock change is meant."""
    return moment.replace(fold=0)


plain = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.times().map(unfolded),
    st.datetimes(timezones=st.sampled_from([None, UTC, WEST])).map(unfolded),
)
values = st.recursive(
    plain,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abé .", max_size=3), inner, max_size=3),
    max_leaves=6,
)
seeds = st.integers(0, 2**32 - 1)


def comments(text: str) -> set[str]:
    return set(re.findall(r"# c\d+c", text))


def changed(data: Any, path: KeyPath, value: Any) -> Any:
    """The values with one changed or added, by the plain way of copying them all."""
    data = copy.deepcopy(data)
    inner = data
    for step, following in itertools.pairwise(path):
        if isinstance(inner, dict):
            inner = inner.setdefault(step, {} if isinstance(following, str) else [])
        else:
            inner = inner[step]
    if isinstance(inner, list) and path[-1] == len(inner):
        inner.append(value)
    else:
        inner[path[-1]] = value
    return data


def assert_reads_as(text: str, data: Any) -> None:
    assert toml.shown(tomllib.loads(text)) == toml.shown(data)


@settings(max_examples=400, deadline=None)
@given(toml.documents(), seeds, plain)
def test_one_value_changes_and_every_other_character_stays(text: str, seed: int, value: Any) -> None:
    data, places = tomllib.loads(text), scan_places(text)
    leaves = [p for p in places if places[p].kind == "value" and not isinstance(toml.at(data, p), dict | list)]
    if not leaves:
        return
    path = random.Random(seed).choice(leaves)
    place = places[path]
    new = set_value(text, path, value)
    assert_reads_as(new, changed(data, path, value))
    assert new.startswith(text[: place.value_start])
    assert new.endswith(text[place.value_end :])
    assert comments(new) >= comments(text[: place.value_start] + text[place.value_end :])
    if place.value_line == place.value_end_line:
        differing = [n for n, (a, b) in enumerate(zip(text.split("\n"), new.split("\n"), strict=True), 1) if a != b]
        assert differing in ([], [place.value_line])


@settings(max_examples=400, deadline=None)
@given(toml.documents(), seeds, values)
def test_lists_and_tables_change_with_the_comments_outside_them(text: str, seed: int, value: Any) -> None:
    data, places = tomllib.loads(text), scan_places(text)
    paths = [p for p in places if p]
    if not paths:
        return
    path = random.Random(seed).choice(paths)
    if isinstance(path[-1], int) and places[path].kind == "header" and not isinstance(value, dict):
        with pytest.raises(ValueError, match="give a mapping"):
            set_value(text, path, value)
        return
    new = set_value(text, path, value)
    assert_reads_as(new, changed(data, path, value))
    if places[path].kind == "value":
        place = places[path]
        assert new.startswith(text[: place.value_start])
        assert new.endswith(text[place.value_end :])
    assert set_value(new, path, value) == new, "setting it again changes nothing"


@settings(max_examples=400, deadline=None)
@given(toml.documents(), seeds, values, st.sampled_from([("new",), ("new key", "é"), ("n", "", "x")]))
def test_added_keys_and_items_leave_every_line_and_comment(text: str, seed: int, value: Any, keys: KeyPath) -> None:
    data, places = tomllib.loads(text), scan_places(text)
    parent = random.Random(seed).choice([p for p in places if isinstance(toml.at(data, p), dict | list)])
    inner = toml.at(data, parent)
    path = (*parent, len(inner)) if isinstance(inner, list) else (*parent, *keys)
    if places[parent].kind == "entries" and not isinstance(value, dict):
        with pytest.raises(ValueError, match="give a mapping"):
            set_value(text, path, value)
        return
    new = set_value(text, path, value)
    assert_reads_as(new, changed(data, path, value))
    assert comments(new) == comments(text)
    rest = new.split("\n")
    gone = [line for line in text.split("\n") if line not in rest or rest.remove(line)]  # type: ignore[func-returns-value]
    assert len(gone) <= 1, "only a list or a table in braces is touched, on one line"
    ends = set(re.findall(r"\r?\n", text))
    if len(ends) == 1:
        assert set(re.findall(r"\r?\n", new)) == ends


def without(data: Any, path: KeyPath) -> Any:
    data = copy.deepcopy(data)
    del toml.at(data, path[:-1])[path[-1]]
    return data


@settings(max_examples=400, deadline=None)
@given(toml.documents(), seeds)
def test_deleted_is_that_path_and_at_most_tables_left_empty(text: str, seed: int) -> None:
    data, places = tomllib.loads(text), scan_places(text)
    paths = [p for p in places if p]
    if not paths:
        return
    path = random.Random(seed).choice(paths)
    found = toml.shown(tomllib.loads(delete_value(text, path)))
    allowed = [without(data, path)]
    while len(path) > 1 and not toml.at(allowed[-1], path[:-1]):
        path = path[:-1]
        allowed.append(without(data, path))
    assert found in [toml.shown(data) for data in allowed]


@settings(max_examples=200, deadline=None)
@given(toml.documents(), st.dictionaries(st.text("abé .", max_size=3), values, max_size=3))
def test_appended_entries_stand_behind_the_text(text: str, entry: dict[str, Any]) -> None:
    once = append_table(text, "entries", entry)
    twice = append_table(once, "entries", entry)
    assert once.startswith(text)
    assert twice.startswith(once.rstrip("\r\n"))
    assert_reads_as(twice, {**tomllib.loads(text), "entries": [entry, entry]})


@settings(max_examples=300, deadline=None)
@given(values)
def test_written_values_read_back(value: Any) -> None:
    text = write_value(value)
    assert "\n" not in text
    assert toml.shown(tomllib.loads(f"x = {text}")["x"]) == toml.shown(value)


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=5), min_size=1, max_size=3))
def test_written_keys_read_back(parts: list[str]) -> None:
    assert list(toml.paths(tomllib.loads(f"{write_key(*parts)} = 1")))[-1] == tuple(parts)


def lines_changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """Lines only the old text has, and lines only the new one has."""
    before, after = old.splitlines(), new.splitlines()
    kept = [line for line in before if line in after]
    assert kept == [line for line in after if line in before], "order"
    return [line for line in before if line not in after], [line for line in after if line not in before]


CONNECTOR_3 = '  { name = "J3", plugs = "relay-1", green = %s }, { name = "J4", plugs = "relay-2", green = 21 },'
ON_THE_DOSSIER: list[tuple[KeyPath, Any, list[str], list[str]]] = [
    (
        ("chip", "drive"),
        "12 mA; because cooler",
        ['drive = "20 mA; because the levels were measured with it"'],
        ['drive = "12 mA; because cooler"'],
    ),
    (
        ("board", "sync", "h"),
        2,
        ["sync = { h = 26, v = 27 }       # chip pins"],
        ["sync = { h = 2, v = 27 }       # chip pins"],
    ),
    (("board", "connectors", 2, "green"), 14, [CONNECTOR_3 % 19], [CONNECTOR_3 % 14]),
    (("board", "connectors", 2, "blue"), 5, [CONNECTOR_3 % 19], [CONNECTOR_3 % "19, blue = 5"]),
    (
        ("board", "connectors", 6),
        {"name": "J8", "green": 5},
        [],
        ['  { name = "J8", green = 5 },'],
    ),
    (("displays", 3, "cable"), "thin, 3 m; guess", [], ['cable = "thin, 3 m; guess"']),
    (("chip", "free", "network"), "9 B", [], ['free.network = "9 B"']),
    (("board", "parts", "J8"), {"is": "inlet"}, [], ['J8 = { is = "inlet" }']),
    (("cues", 0, "on"), ["heroes", "relays"], ['on = ["heroes"]'], ['on = ["heroes", "relays"]']),
    (("lamp", "colour"), "red", [], ["[lamp]", 'colour = "red"']),
    (("remark",), "x", [], ['remark = "x"']),
]


@pytest.mark.parametrize(("path", "value", "gone", "come"), ON_THE_DOSSIER)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_the_dossier_changes_on_the_touched_line_only(
    path: KeyPath, value: Any, gone: list[str], come: list[str], end: str
) -> None:
    text = DOSSIER.replace("\n", end)
    new = set_value(text, path, value)
    assert lines_changed(text, new) == (gone, come)
    assert_reads_as(new, changed(tomllib.loads(text), path, value))
    assert new.replace(end, "") == new.replace("\r", "").replace("\n", ""), "one kind of line end"
    assert new.count("#") == text.count("#")


def test_an_entry_is_added_behind_the_last_of_its_kind() -> None:
    new = append_table(DOSSIER, "displays", {"name": "relay-5", "same_as": "relay-1"})
    added = '[[displays]]\nname = "relay-5"\nsame_as = "relay-1"\n'
    assert new == DOSSIER.replace("[supply]\n", f"{added}[supply]\n")
    apart = "[[a]]\nx = 1\n\n[[a]]\nx = 2\n\n[b]\n"
    assert append_table(apart, "a", {"x": 3}) == "[[a]]\nx = 1\n\n[[a]]\nx = 2\n\n[[a]]\nx = 3\n\n[b]\n"
    assert append_table("[[a]]\nx = 1  # why\n[b]\n", "a", {"x": 3}) == "[[a]]\nx = 1  # why\n[[a]]\nx = 3\n[b]\n"
    assert append_table("", "a", {"x": 3}) == "[[a]]\nx = 3\n"
    assert append_table("a = [ { x = 1 } ]", "a", {"x": 3}) == "a = [ { x = 1 }, { x = 3 } ]"


def test_lists_over_several_lines_keep_their_shape_and_comments() -> None:
    text = 'a = [  # all\n  "x",  # first\n  "y"   # second\n  # last words\n]  # end\n'
    assert set_value(text, ("a", 2), "z") == (
        'a = [  # all\n  "x",  # first\n  "y",   # second\n  "z"\n  # last words\n]  # end\n'
    )
    assert set_value(text, ("a",), ["x", "Y"]) == text.replace('"y"', '"Y"')
    assert delete_value(text, ("a", 0)) == 'a = [  # all\n  "y"   # second\n  # last words\n]  # end\n'
    assert delete_value(text, ("a", 1)) == 'a = [  # all\n  "x",  # first\n  # last words\n]  # end\n'
    assert set_value("a = [ # none\n]", ("a", 0), 1) == "a = [1 # none\n]"
    assert delete_value("a = [1\n , # why\n 2]", ("a", 0)) == "a = [\n  # why\n 2]"


def test_dotted_keys_in_braces() -> None:
    text = "x = { a.b = 1, c = {} } # why\n"
    assert set_value(text, ("x", "a", "b"), 2) == "x = { a.b = 2, c = {} } # why\n"
    assert set_value(text, ("x", "a", "d", "e"), 2) == "x = { a.b = 1, c = {}, a.d.e = 2 } # why\n"
    assert set_value(text, ("x", "c", "d"), 2) == "x = { a.b = 1, c = { d = 2 } } # why\n"
    assert delete_value(text, ("x", "a")) == "x = { c = {} } # why\n"
    assert delete_value(text, ("x", "c")) == "x = { a.b = 1 } # why\n"


def test_a_table_that_only_a_longer_header_names_gets_its_own_header() -> None:
    text = "x = 1  # x\n\n# about c\n[a.b.c]\ny = 2\n[[d]]\n[d.e.f]\n[[d]]\n"
    new = set_value(text, ("a", "b", "k"), 3)
    assert new == text.replace("# about c\n", "[a.b]\nk = 3\n# about c\n")
    new = set_value(text, ("d", 0, "e", "k"), 3)
    assert new == text.replace("[d.e.f]", "[d.e]\nk = 3\n[d.e.f]")


def test_a_table_named_by_a_header_and_by_dotted_keys_gets_another_dotted_key() -> None:
    text = "[a.b.d]\ny = 1\n[a]\nb.x = 1\n"
    assert scan_places(text)[("a", "b")].kind == "dotted"
    assert set_value(text, ("a", "b", "z"), 2) == text + "b.z = 2\n"


def test_a_table_given_new_keys_keeps_its_place() -> None:
    text = "[t]\na.b = 1  # why\nz = 2\n"
    assert set_value(text, ("t", "a"), {"c": 2}) == "[t]\na.c = 2\nz = 2\n"
    assert set_value(text, ("t", "a"), {}) == "[t]\nz = 2\na = {}\n"
    assert set_value(text, ("t", "a"), 5) == "[t]\nz = 2\na = 5\n"


def test_indent_quotes_and_missing_line_ends_are_followed() -> None:
    assert set_value("[a]\n\tx = 'C:\\fab' # c", ("a", "x"), "D:\\fab") == "[a]\n\tx = 'D:\\fab' # c"
    assert set_value("x = 'a'", ("x",), "it's") == 'x = "it\'s"'
    assert set_value("x = 'a'", ("x",), "b\nc") == 'x = "b\\nc"'
    assert set_value("[a]\n  x = 1 # c", ("a", "y"), 2) == "[a]\n  x = 1 # c\n  y = 2"
    assert set_value("x = 1", ("a", "y"), 2) == "x = 1\n[a]\ny = 2\n"
    assert set_value("", ("y",), 2) == "y = 2\n"
    assert set_value("# c", ("y",), 2) == "# c\ny = 2\n"
    assert set_value('x = """\n# no\n"""  # c\ny = 1\n', ("x",), "z") == 'x = "z"  # c\ny = 1\n'


def test_a_table_with_a_header_gives_way_to_a_value() -> None:
    assert set_value("[a]\nx = 1\n[b]\n", ("a",), 5) == "a = 5\n[b]\n"
    assert set_value("[[a]]\nx = 1\n[b]\n", ("a",), []) == "a = []\n[b]\n"
    assert set_value("[b]\n", ("a",), [{"x": 1}, {"x": 2}]) == "[b]\n[[a]]\nx = 1\n[[a]]\nx = 2\n"


ENDLESS: list[Any] = []
ENDLESS.append(ENDLESS)


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("chip", "drive", "low"), 1, r"chip\.drive is a value"),
        (("board", "connectors", 8), {}, "6 items, counted from 0"),
        (("board", "connectors", "J9"), {}, "6 items, counted from 0"),
        (("board", 0), 1, "a table takes names"),
        (("nothing", 0), 1, "a table takes names"),
        (("chip", "drive"), None, "delete the key"),
        (("chip", "drive"), 1j, "of type complex"),
        (("chip", "drive"), "\ud800", "half a character"),
        (("chip", "drive"), {1: 2}, "a key is text"),
        (("chip", "drive"), datetime.time(1, tzinfo=UTC), "drop the offset"),
        (
            ("chip", "drive"),
            datetime.datetime(2031, 1, 1, tzinfo=datetime.timezone(datetime.timedelta(seconds=1))),
            "round",
        ),
        (("chip", "drive"), ENDLESS, "nested without end"),
        ((), 1, "an empty path"),
    ],
)
def test_what_cannot_be_set_is_refused_with_the_reason(path: KeyPath, value: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        set_value(DOSSIER, path, value)
    assert str(caught.value).count(";") >= 2


def test_other_refusals() -> None:
    with pytest.raises(ValueError, match="line 2, column 5: "):
        set_value("a = 1\nb = 20 mA\n", ("a",), 2)
    with pytest.raises(ValueError, match="only what is there can be deleted"):
        delete_value(DOSSIER, ("chip", "nothing"))
    with pytest.raises(ValueError, match="only what is there can be deleted"):
        delete_value(DOSSIER, ())
    with pytest.raises(ValueError, match="not a list of entries"):
        append_table(DOSSIER, "chip", {"a": 1})


def test_a_change_that_spreads_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the splicing does is not believed: the outcome is read again."""
    honest = toml_splice.replaced

    def careless(text: str, start: int, end: int, new: str) -> str:
        return honest(text, start, end, new).replace("20 .. 40 ohm", "21 .. 40 ohm")

    monkeypatch.setattr(toml_splice, "replaced", careless)
    with pytest.raises(ValueError, match="without changing something else; see line 10; change it by hand"):
        set_value(DOSSIER, ("chip", "drive"), "12 mA")
    with pytest.raises(ValueError, match="without changing something else"):
        delete_value(DOSSIER, ("chip", "drive"))
