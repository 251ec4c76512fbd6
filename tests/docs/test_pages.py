"""The generated pages: what the program says today, run again by another road, and met by what surveys really say."""

from __future__ import annotations

import importlib
import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from datetime import date
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from scanloom.basis import units
from scanloom.basis.verdict import Verdict
from scanloom.dossier.leaf import Leaf, plant
from scanloom.dossier.model import Dossier
from scanloom.dossier.plan import make_plan
from scanloom.handbook.chips import chip, display_classes
from scanloom.handbook.load import TABLES
from scanloom.handbook.sources import source
from scanloom.report.json_text import verdict_doc
from scanloom.survey import survey_plan

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
DEMOS = ("final", "first-evening")
# design page, "Stable codes": those whose stage is built
STABLE = """
screens.rate screens.not-promised clock.error clock.wobble lanes.word-rate lanes.pin-kind lanes.routing lanes.crossings
memory.blocks memory.drawing-time levels.white levels.linearity levels.monotonic levels.pin-current levels.bank-current
levels.chip-current levels.sync-high levels.sync-low levels.sync-edge levels.regulator-heat levels.inlet
waking.boot-pin waking.back-fed waking.brown-out waking.serial
""".split()


@pytest.fixture(scope="module")
def scripts() -> Iterator[None]:
    """The folder of scripts on the path."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT / "scripts"))
        yield


@pytest.fixture(scope="module")
def pages(scripts: None) -> ModuleType:
    """The module that makes the pages."""
    return importlib.import_module("pages")


def page(name: str) -> str:
    """A page as it stands on disk."""
    return (DOCS / name).read_text(encoding="utf-8")


def section(name: str, heading: str) -> str:
    """Text below one heading, down to the next one of its rank or higher."""
    rank = len(heading) - len(heading.lstrip("#"))
    found = re.search(rf"^{re.escape(heading)}\n(.*?)(?=^#{{1,{rank}}} |\Z)", page(name), re.MULTILINE | re.DOTALL)
    assert found, f"docs/{name} has no heading {heading!r}"
    return found[1]


def demo(name: str) -> dict[str, Any]:
    """A demo dossier as TOML reads it."""
    return tomllib.loads((ROOT / f"examples/deep-station/{name}.toml").read_text(encoding="utf-8"))


def test_pages_on_disk_are_what_the_program_says(pages: ModuleType) -> None:
    found = pages.faults(pages.made())
    if found:
        pytest.fail("\n\n".join(found), pytrace=False)


def test_check_notices_a_changed_a_missing_and_a_stale_page(
    pages: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(pages, "ROOT", tmp_path)
    (tmp_path / "docs/schemas").mkdir(parents=True)
    (tmp_path / "docs/a.md").write_text("one\n", encoding="utf-8")
    (tmp_path / "docs/schemas/old.json").write_text("{}", encoding="utf-8")
    changed, missing, stale = pages.faults({"docs/a.md": "two\n", "docs/b.md": "three\n"})
    assert changed.startswith("docs/a.md: out of date; run: ")
    assert "-one" in changed and "+two" in changed
    assert missing.startswith("docs/b.md: missing; run: ")
    assert stale == "docs/schemas/old.json: no schema has that name; delete it"


# commands


def examples() -> list[tuple[str, list[str], int]]:
    """Commands on the page with the lines printed below each and the exit code told."""
    blocks = re.findall(
        r"^```(?:text|console)\n\$ (.+)\n((?:.*\n)*?)```\n(?:\nIt left with exit code (\d)\.)?",
        page("commands.md"),
        re.MULTILINE,
    )
    return [(command, printed.rstrip("\n").split("\n"), int(code or 0)) for command, printed, code in blocks]


def run(command: str) -> subprocess.CompletedProcess[str]:
    """A command of the page, run in a process of its own as its users run it."""
    program, *arguments = shlex.split(command)
    assert program == "scanloom"
    clean = {k: v for k, v in os.environ.items() if k not in ("FORCE_COLOR", "CLICOLOR_FORCE", "TTY_COMPATIBLE")}
    surroundings = {"PYTHONPATH": str(ROOT / "src"), "PYTHONIOENCODING": "utf-8", "COLUMNS": "80", "NO_COLOR": "1"}
    return subprocess.run(
        [sys.executable, "-m", "scanloom", *arguments],
        capture_output=True,
        cwd=ROOT,
        env=clean | surroundings,
        check=False,
        encoding="utf-8",
    )


def test_examples_print_what_the_page_shows() -> None:
    shown = examples()
    assert {shlex.split(command)[1] for command, _, _ in shown} == {
        "fit",
        "new",
        "check",
        "open",
        "report",
        "pins",
        "picture",
        "review",
        "timing",
        "clock",
        "levels",
        "chip",
        "schema",
    }
    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(run, [command for command, _, _ in shown]))
    for (command, printed, code), ran in zip(shown, done, strict=True):
        lines = [line.rstrip() for line in (ran.stdout + ran.stderr).rstrip("\n").split("\n")]
        cut = printed[-1] == "..."
        assert printed[0]
        assert len(lines) >= len(printed)
        assert (lines[: len(printed) - 1] if cut else lines) == (printed[:-1] if cut else printed), command
        if code or not cut:
            assert ran.returncode == code, command


def test_json_on_the_page_fits_its_published_schema() -> None:
    found = [(c, "\n".join(printed)) for c, printed, _ in examples() if "--json" in c]
    assert len(found) == 2
    for command, text in found:
        schema = json.loads(page(f"schemas/{shlex.split(command)[1]}.json"))
        Draft202012Validator(schema).validate(json.loads(text))


def test_every_option_of_the_help_has_its_row(scripts: None) -> None:
    def helped(command: str) -> str:
        out: str = importlib.import_module("pages_commands").ran(ROOT, f"scanloom {command} --help").out
        return out

    names = re.findall(r"^│ ([a-z][a-z-]*) ", helped(""), re.MULTILINE)
    assert len(names) >= 6
    for name in names:
        table = helped(name).partition("─ Parameters ─")[2].partition("╰")[0]
        options = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", table.replace("│", " ")))
        positional = {f"--{word.lower()}" for word in re.findall(r"^│ \*? *([A-Z]+) --", table, re.MULTILINE)}
        rows = re.findall(r"^\| (`.*?) \|", section("commands.md", f"## {name}"), re.MULTILINE)
        told = set(re.findall(r"--[a-z][a-z-]*", " ".join(rows)))
        assert options - positional <= told, f"{name}: {sorted(options - positional - told)} missing"
        assert told <= options, f"{name}: {sorted(told - options)} is no option"


# verdicts


def surveyed(data: dict[str, Any]) -> tuple[Verdict, ...]:
    """Verdicts on a dossier given as TOML values; none when it cannot be read."""
    try:
        dossier = Dossier.model_validate(plant(data))
    except ValueError:
        return ()
    record = chip(dossier.chip.like.value) if dossier.chip is not None and dossier.chip.like is not None else None
    standings = {str(row["source"]): source(str(row["source"])).standing for row in display_classes().values()}
    return survey_plan(make_plan(dossier, record, display_classes(), standings)).verdicts


def shorn(data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """A dossier with one thing left out: each table, and each value of the tables that most rests on."""
    for table in data:
        less = deepcopy(data)
        del less[table]
        yield less
    for path in (
        ("chip",),
        ("board",),
        ("board", "sync"),
        ("levels",),
        ("levels", "sync"),
        ("levels", "colour"),
        ("rigs", 0),
        ("supply",),
    ):
        for key in reach(data, path):
            less = deepcopy(data)
            del reach(less, path)[key]
            yield less


ALTERED: tuple[dict[tuple[str | int, ...], Any], ...] = (
    {("chip", "like"): "rp2040"},
    {("chip", "like"): "rp2040", ("rigs", 0, "stream"): "8 lanes"},
    {("rigs", 0, "clock"): "12.5 MHz"},
    {("rigs", 0, "clock"): "12.345678 MHz"},
    {("rigs", 0, "lanes"): ["nobody", "h"]},
    {("rigs", 0, "lanes"): ["h", "v"]},
    {("rigs", 0, "frames"): 2},
    {("rigs", 0, "frames"): 40},
    {("rigs", 0, "stream"): "12 lanes"},
    {("rigs", 0, "raster", "parent"): "641x480@60"},
    {("rigs", 0, "raster", "parent"): "1024x768@87i"},
    {("rigs", 0, "raster", "divide"): 3},
    {("rigs", 0, "raster", "picture"): "2000x240"},
    {("rigs", 0, "raster", "picture"): "319x240"},
    {("rigs", 0, "depth", "heroes"): {"white": 1, "red": 1}},
    {("levels", "colour", "style"): "buffered"},
    {("levels", "sync", "outputs"): "two"},
    {("displays", 0, "panel"): "1366x768"},
    # two bits of red with two parts; green has one pin and two parts, a fault of its own
    {
        ("rigs", 0, "depth", "heroes", "red"): 2,
        ("board", "connectors", 0, "red"): [32, 2],
        ("board", "connectors", 1, "red"): [13, 15],
        ("levels", "colour"): {"style": "weighted", "part": "360, 750 ohm ± 1 %"},
    },
    {
        ("rigs", 0, "depth", "heroes", "red"): 2,
        ("board", "connectors", 0, "red"): [32, 2],
        ("board", "connectors", 1, "red"): [13, 15],
        ("levels", "colour"): {"style": "weighted", "part": "750, 360 ohm ± 30 %"},
    },
)
"""Values to set in a dossier, so that other things are said."""


def altered(data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """A dossier with some values changed."""
    for changes in ALTERED:
        other = deepcopy(data)
        for path, value in changes.items():
            reach(other, path[:-1])[path[-1]] = value
        yield other


def reach(data: Any, path: tuple[str | int, ...]) -> Any:
    """Table at a path."""
    for step in path:
        data = data[step]
    return data


@pytest.fixture(scope="module")
def verdicts() -> list[Verdict]:
    """What surveys of the demo dossiers say: whole, with things left out, with things changed."""
    met: dict[tuple[str, str, str, str], Verdict] = {}
    plans = [plan for name in DEMOS for plan in (demo(name), *shorn(demo(name)))]
    for data in (*plans, *altered(demo("final"))):
        for verdict in surveyed(data):
            met.setdefault((verdict.code, verdict.judged, verdict.weight, verdict.says), verdict)
    return list(met.values())


@cache
def told() -> dict[str, str]:
    """Section of each code."""
    codes = re.findall(r"^### (\S+)$", page("verdicts.md"), re.MULTILINE)
    assert len(codes) == len(set(codes))
    return {code: section("verdicts.md", f"### {code}") for code in codes}


def test_stable_codes_are_on_the_page() -> None:
    assert set(STABLE) - told().keys() == set()


def test_every_code_met_is_on_the_page(verdicts: list[Verdict]) -> None:
    met = {verdict.code for verdict in verdicts}
    assert len(met) > 35
    assert met - told().keys() == set()


def test_every_weight_met_is_on_the_page(verdicts: list[Verdict]) -> None:
    for verdict in verdicts:
        weights = re.search(r"^- Weight: (.+)\.$", told()[verdict.code], re.MULTILINE)
        assert weights
        # a limit known from memory alone turns a stop into a caution; the page says so once
        softened = verdict.weight == "caution" and {s.standing for s in verdict.sources} == {"recalled"}
        assert softened or verdict.weight in weights[1].split(" or "), verdict.code


def test_every_sentence_met_is_one_of_the_page(verdicts: list[Verdict]) -> None:
    """The sentences are read from the source; here they meet those that a survey made."""
    faults = []
    for verdict in verdicts:
        lines = re.findall(r"^  - (?:\*(holds|fails|unknown)\*: )?(.+)$", told()[verdict.code], re.MULTILINE)
        forms = [text for state, text in lines if state in ("", verdict.judged)]
        patterns = [".+".join(re.escape(part) for part in re.split(r"\[[^\]]*\]", form)) for form in forms]
        if not any(re.fullmatch(pattern, verdict.says) for pattern in patterns):
            faults.append(f"{verdict.code} ({verdict.judged}): {verdict.says}")
    assert not faults, "\n".join(faults)


def test_every_source_met_is_named_with_its_code(verdicts: list[Verdict]) -> None:
    named = [(v.code, s) for v in verdicts for s in v.sources]
    assert named
    missing = {f"{code}: {s.title} ({s.standing})" for code, s in named if f"[{s.title}]" not in told()[code]}
    assert not missing, "\n".join(sorted(missing))


def test_a_code_without_meaning_and_a_meaning_without_code_are_refused(scripts: None) -> None:
    module = importlib.import_module("pages_verdicts")
    words = tomllib.loads((ROOT / "scripts/pages_words.toml").read_text(encoding="utf-8"))["codes"]
    less = {code: row for code, row in words.items() if code != "levels.white"}
    with pytest.raises(
        ValueError, match=r'^levels\.white: no row in pages_words\.toml .* add \[codes\."levels\.white"\]$'
    ):
        module.page(ROOT, less)
    with pytest.raises(ValueError, match=r"^levels\.blue: in pages_words\.toml, but the program has no such check"):
        module.page(ROOT, words | {"levels.blue": {"checks": "something"}})
    bare = words | {"levels.inlet": {"checks": words["levels.inlet"]["checks"]}}
    with pytest.raises(ValueError, match=r"^levels\.inlet: no row of the handbook stands behind its limit"):
        module.page(ROOT, bare)


SMALL = """
def judge(read, name, many):
    says = "It is one." if not many else f"{name.title()} is {len(many)} things."
    return read.verdict("small.count", name, "stop", says, state="fails" if many else "holds")

def other(read, code, name):
    if name:
        says, state = f"{name} is named.", "holds"
    else:
        says, state = "Nameless.", "unknown"
    return read.verdict(code, name, "note", says, state=state)

def use(read):
    return other(read, "small.name", ""), other(read, "small.size", "x")
"""


def test_sentences_keep_to_their_state_and_codes_to_their_call(scripts: None, tmp_path: Path) -> None:
    module = importlib.import_module("pages_checks")
    (tmp_path / "small.py").write_text(SMALL, encoding="utf-8")
    found = module.checks(tmp_path)
    assert sorted(found) == ["small.count", "small.name", "small.size"]
    assert found["small.count"].said == {"It is one.": {"holds"}, "[name] is [number] things.": {"fails"}}
    assert found["small.name"].said == {" is named.": {"holds"}, "Nameless.": {"unknown"}}
    assert found["small.size"].said == {"x is named.": {"holds"}, "Nameless.": {"unknown"}}
    assert found["small.count"].weights == {"stop"}


def test_a_code_that_cannot_be_read_is_refused(scripts: None, tmp_path: Path) -> None:
    module = importlib.import_module("pages_checks")
    (tmp_path / "hidden.py").write_text(
        'def f(read, x):\n    return read.verdict(x, "", "stop", "A.")\n', encoding="utf-8"
    )
    with pytest.raises(module.Unclear, match=r"^hidden\.py:2: the code of this verdict cannot be read: \[x\]"):
        module.checks(tmp_path)


# sources


def test_rows_of_each_source_are_counted_right() -> None:
    """Counted once more in the text of the tables, comments aside."""
    counted: dict[tuple[str, str], int] = {}
    for path in TABLES.rglob("*.toml"):
        text = re.sub(r"^#.*$", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        for key in re.findall(r'\bsource = "([^"]+)"', text):
            counted[key, path.stem] = counted.get((key, path.stem), 0) + 1
    shown = {
        (key, name): int(number)
        for key in re.findall(r"^## (\S+)$", page("sources.md"), re.MULTILINE)
        for name, number in re.findall(r"(?:table|chip) `([^`]+)`, (\d+) row", section("sources.md", f"## {key}"))
    }
    assert shown == counted


# dossier


def test_every_field_of_the_schema_is_on_the_page(scripts: None) -> None:
    schema = json.loads(page("schemas/dossier.json"))
    module = importlib.import_module("pages_dossier")
    words = tomllib.loads((ROOT / "scripts/pages_words.toml").read_text(encoding="utf-8"))["fields"]
    titles = {part.model.__name__: part.same or part.heading for part in module.sections(ROOT, words)}
    assert schema["$defs"].keys() == titles.keys()
    for name, shape in schema["$defs"].items():
        rows = re.findall(r"^\| `([^`]+)` \|", section("dossier.md", f"## {titles[name]}"), re.MULTILINE)
        assert rows == list(shape["properties"]), titles[name]
    roots = {heading.strip("[]").split(".")[0] for heading in titles.values()}
    assert roots == set(schema["properties"])


def test_every_example_is_read_by_its_own_field(scripts: None) -> None:
    module = importlib.import_module("pages_dossier")
    words = tomllib.loads((ROOT / "scripts/pages_words.toml").read_text(encoding="utf-8"))["fields"]
    read = 0
    for part in module.sections(ROOT, words):
        for row in (row for row in part.rows if row.example):
            name, info = next((n, i) for n, i in part.model.model_fields.items() if (i.alias or n) == row.field)
            held = module._held([info.annotation, *info.metadata])
            value = tomllib.loads(row.example if held.keys else f"x = {row.example}")
            while isinstance(value, dict):
                (value,) = value.values()
            if held.marker is not None:
                held.marker.take(Leaf(row.key, value))
            else:
                part.model.__pydantic_validator__.validate_assignment(part.model.model_construct(), name, value)
            read += 1
    assert read > 60


def test_quantities_of_the_introduction_are_read() -> None:
    text = section("dossier.md", "## How a value is written").partition("\nA decimal comma")[0]
    shown = re.findall(r'`"([^"`]+)"`', text)
    assert len(shown) == 8
    for one in shown:
        quantity = one.partition(";")[0]
        unit = next(u for u in ("Hz", "B", "V", "ohm") if quantity.split(" ±")[0].endswith(u) or u == "ohm")
        assert units.read_spans(quantity, unit)


def plain(value: Any) -> Any:
    """TOML values as JSON has them: a date is text."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [plain(one) for one in value]
    return value.isoformat() if isinstance(value, date) else value


def dossier_schema() -> Draft202012Validator:
    """The published schema of the dossier, dates checked."""
    schema = json.loads(page("schemas/dossier.json"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema, format_checker=Draft202012Validator.FORMAT_CHECKER)


@pytest.mark.parametrize("name", DEMOS)
def test_demo_dossiers_fit_the_published_schema(name: str) -> None:
    assert [error.message for error in dossier_schema().iter_errors(plain(demo(name)))] == []


@pytest.mark.parametrize(
    ("place", "key", "value"),
    [
        (("event",), "date", "soon"),
        (("displays", 0), "colour_lode", "75 ohm"),
        (("board", "connectors", 0), "red", "32"),
        (("rigs", 0, "raster"), "divide", "2"),
        (("dossier",), "format", 2),
    ],
)
def test_schema_refuses_what_the_reader_refuses(place: tuple[str | int, ...], key: str, value: object) -> None:
    data = plain(demo("final"))
    reach(data, place)[key] = value
    assert not dossier_schema().is_valid(data)


@pytest.mark.parametrize("path", sorted((DOCS / "schemas").glob("*.json")), ids=lambda path: path.stem)
def test_published_schemas_are_schemas(path: Path) -> None:
    Draft202012Validator.check_schema(json.loads(path.read_text(encoding="utf-8")))


def test_verdicts_fit_the_published_schema(verdicts: list[Verdict]) -> None:
    schema = json.loads(page("schemas/check.json"))
    one = Draft202012Validator({"$defs": schema["$defs"], **schema["properties"]["verdicts"]})
    one.validate([verdict_doc(verdict) for verdict in verdicts])
