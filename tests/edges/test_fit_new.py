"""The first five minutes as a script or a person meets them: `fit` lists plans, `new` writes a starter, `check` reads it."""

from __future__ import annotations

import importlib
import itertools
import json
import re
import sys
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest

from scanloom.cli.app import run
from scanloom.handbook.chips import chip as chip_record
from scanloom.handbook.chips import chip_names
from scanloom.handbook.timings import TimingRow, find_timing
from scanloom.report.schemas import schema_of
from scanloom.survey import fit

ROOT = Path(__file__).resolve().parents[2]
SIX = "6 displays: 2 colour, 4 green"
WISHES = (SIX, "2 colour with 1 bit", "1 white", "3 green with 2 bits")
TOO_MUCH = "16 colour with 6 bits"
KEYS = set(
    "chip parent divide repeat picture stream depth bytes_used bytes_free word_rate_hz frame_rate_hz pins current_a "
    "state first_failure cure".split()
)
# Keys of a starter whose text is a fact; every other text is a name, a choice or a picture.
FACTS = set(
    "like keep_back free pin_high pin_low rail line_rate frame_rate colour_load sync_load sync_pull same_as inlet "
    "regulator_rise air part buffer branch firmware".split()
)
FEW = ("640x480@60", "800x600@60", "1024x768@60")
LAST = "nothing rests on a measurement: do not order yet."
CLOSING = re.compile(rf"\d+ of \d+ hold only on a guess; {LAST[:-1]}\.$")


@cache
def validator(command: str) -> jsonschema.Draft202012Validator:
    """What tells whether a command's JSON keeps the published shape, itself a sound schema."""
    jsonschema.Draft202012Validator.check_schema(schema_of(command))
    return jsonschema.Draft202012Validator(schema_of(command))


@dataclass(frozen=True, slots=True)
class Said:
    """What one call answered."""

    code: int
    out: str
    err: str

    def json(self, command: str) -> Any:
        """The answer as JSON, which keeps the published shape."""
        made = json.loads(self.out)
        validator(command).validate(made)
        return made


Call = Callable[..., Said]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Function that runs one command in this process, 80 columns wide, as if its output went into a pipe."""
    for name in ("FORCE_COLOR", "CLICOLOR_FORCE", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")

    def answer(*arguments: str | Path) -> Said:
        capsys.readouterr()
        code = run([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return Said(code, out, err)

    return answer


@pytest.fixture
def few_parents(monkeypatch: pytest.MonkeyPatch) -> None:
    """The three readiest parents instead of all: what is asked here does not depend on how many there are."""
    found: tuple[TimingRow, ...] = tuple(find_timing(name) for name in FEW)
    monkeypatch.setattr(fit, "wished_parents", lambda: found)


def fields(value: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value of a document with its path, places in lists left out."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from fields(inner, (*path, key))
    elif isinstance(value, list):
        for inner in value:
            yield from fields(inner, path)
    else:
        yield path, value


# fit


@pytest.mark.usefixtures("few_parents")
@pytest.mark.parametrize(("chip", "wish"), list(itertools.product(chip_names(), (SIX, "2 colour with 1 bit"))))
def test_every_chip_offers_three_plans_or_says_why(call: Call, chip: str, wish: str) -> None:
    said = call("fit", wish, "--chip", chip, "--json", "--limit", "7")
    result = said.json("fit")["result"]
    rows = result["rows"]
    assert said.code == (0 if result["fitting"] else 1)
    assert len(rows) == min(7, result["fitting"] + result["nearly"])
    assert len(rows) >= 3 or result["reason"]
    assert bool(result["reason"]) == (not rows)
    for number, row in enumerate(rows):
        assert set(row) == KEYS
        assert row["chip"] == chip
        assert (row["first_failure"] == "") == (row["cure"] == "") == (number < result["fitting"])
        assert len(row["depth"]) == len(result["groups"])
        assert re.fullmatch(r"\d+x\d+", row["picture"])


@pytest.mark.usefixtures("few_parents")
def test_no_plan_at_all_is_1_with_the_reason(call: Call) -> None:
    said = call("fit", TOO_MUCH, "--json")
    result = said.json("fit")["result"]
    assert (said.code, result["rows"], result["fitting"], result["nearly"]) == (1, [], 0, 0)
    assert "16 displays" in result["reason"]
    plain = call("fit", TOO_MUCH)
    assert (plain.code, plain.err) == (1, "")
    assert result["reason"] in " ".join(plain.out.split())


@pytest.mark.usefixtures("few_parents")
def test_plans_of_all_chips_stand_in_one_order(call: Call) -> None:
    many = call("fit", SIX, "--json", "--limit", "100000").json("fit")["result"]
    assert {row["chip"] for row in many["rows"]} == set(chip_names())
    assert [row["first_failure"] == "" for row in many["rows"]] == [True] * many["fitting"] + [False] * many["nearly"]
    for chip in ("rp2350b", "wifi240"):
        own = call("fit", SIX, "--chip", chip, "--json", "--limit", "100000").json("fit")["result"]["rows"]
        assert [row for row in many["rows"] if row["chip"] == chip] == own


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("lots of displays",), ("lots of displays", SIX)),
        (("7 displays: 2 colour",), ("7 displays", "2")),
        ((SIX, "--chip", "wifi24"), ("wifi24", "wifi240")),
        ((SIX, "--limit", "0"), ("--limit", "0 plans", "1 or more")),
    ],
    ids=lambda value: "",
)
def test_what_cannot_be_read_is_2(call: Call, arguments: tuple[str, ...], named: tuple[str, ...]) -> None:
    said = call("fit", *arguments)
    assert (said.code, said.out) == (2, "")
    assert all(words in said.err for words in named), said.err
    assert "Traceback" not in said.err
    told = call("fit", *arguments, "--json")
    document = told.json("fit")
    assert (told.code, document["result"]) == (2, None)
    assert document["errors"]


# new


@pytest.mark.usefixtures("few_parents")
@pytest.mark.parametrize(("chip", "wish"), list(itertools.product(chip_names(), WISHES)))
def test_a_starter_reads_and_rests_on_guesses_alone(call: Call, tmp_path: Path, chip: str, wish: str) -> None:
    file = tmp_path / "mine.toml"
    said = call("new", file, "--wish", wish, "--chip", chip, "--json")
    assert (said.code, said.err) == (0, "")
    result = said.json("new")["result"]
    row = result["row"]
    assert set(row) == KEYS
    assert result["file"] == str(file)
    minutes = [one["minutes"] for one in result["to_measure"]]
    assert minutes == sorted(minutes)  # the cheapest first

    text = file.read_text(encoding="utf-8")
    for path, value in fields(tomllib.loads(text)):
        if isinstance(value, str):
            assert value.endswith("; guess") == (not FACTS.isdisjoint(path)), (path, value)
        else:  # plain numbers are pins, bits, divisions and the version of the format
            assert path[0] in ("board", "rigs") or path == ("dossier", "format"), (path, value)
    assert not re.search(r"; (?:measured|sheet|standard|said|because)", text.partition("[dossier]")[2])

    checked = call("check", file, "--json")
    verdicts = json.loads(checked.out)["verdicts"]  # its shape is held elsewhere
    assert checked.code in (0, 1), checked.err
    plain = call("check", file)
    assert plain.code == checked.code
    assert CLOSING.search(" ".join(plain.out.split())), plain.out[-200:]
    assert call("check", file, "--strict").code == 1

    states = {(v["code"], v["subject"]): v["state"] for v in verdicts}
    assert {code.partition(".")[0] for code, _ in states} >= {"timing", "clock", "screens", "lanes", "memory", "levels"}
    never = [key for key, state in states.items() if key[0].startswith(("timing.", "picture.")) and state == "fails"]
    assert not never
    if not row["first_failure"]:
        for code in ("clock.error", "clock.wobble", "lanes.word-rate", "memory.blocks", "memory.alignment"):
            found = {state for (one, _), state in states.items() if one == code}
            assert found <= {"holds"}, (code, found)
        assert {"clock.error", "lanes.word-rate", "memory.blocks"} <= {code for code, _ in states}
    without = "# No map of pins was found: " in text
    assert without == ("sync = {" not in text.partition("[levels]")[0])
    if not without:
        mapped = {key: state for key, state in states.items() if key[0] in ("lanes.pin-kind", "lanes.routing")}
        assert len(mapped) >= 4  # one channel, both syncs, one word
        assert set(mapped.values()) == {"holds"}, mapped
        for pin in tomllib.loads(text)["board"]["sync"].values():  # the buffers are a guess: without them it holds too
            rows = chip_record(chip).pin_rows(pin)
            assert all(one.allow == "any" and one.boot not in ("must be high", "must be low") for one in rows)
    else:
        assert row["first_failure"], row


@pytest.mark.usefixtures("few_parents")
def test_every_plan_of_the_list_can_be_started(call: Call, tmp_path: Path) -> None:
    rows = call("fit", SIX, "--chip", "wifi240", "--json", "--limit", "100000").json("fit")["result"]["rows"]
    for number in (1, 2, len(rows) // 2, len(rows)):
        file = tmp_path / f"{number}.toml"
        started = call("new", file, "--wish", SIX, "--chip", "wifi240", "--row", str(number), "--json")
        assert started.code == 0
        assert started.json("new")["result"]["row"] == rows[number - 1]
        (rig,) = tomllib.loads(file.read_text(encoding="utf-8"))["rigs"]
        raster = rows[number - 1]
        assert rig["raster"] == {key: raster[key] for key in ("parent", "divide", "repeat", "picture")}
        assert rig["stream"] == raster["stream"]
        assert {bits for group in rig["depth"].values() for bits in group.values()} == set(raster["depth"])


@pytest.mark.usefixtures("few_parents")
def test_an_existing_file_stays_as_it_is(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("my work", encoding="utf-8")
    said = call("new", file, "--wish", SIX)
    assert said.code == 2
    assert all(words in said.err for words in (str(file), "exists", "another name"))
    assert file.read_text(encoding="utf-8") == "my work"
    assert call("new", file, "--wish", SIX, "--json").json("new")["errors"]
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.usefixtures("few_parents")
@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--wish", "a dream"), "a dream"),
        (("--wish", SIX, "--chip", "all"), "--chip"),
        (("--wish", SIX, "--chip", "wifi24"), "wifi240"),
        (("--wish", SIX, "--row", "0"), "plan 0"),
        (("--wish", SIX, "--row", "99999"), "plan 99999"),
        (
            (
                "--wish",
                TOO_MUCH,
            ),
            "none is there",
        ),
    ],
    ids=lambda value: "",
)
def test_what_cannot_be_started_leaves_no_file(
    call: Call, tmp_path: Path, arguments: tuple[str, ...], named: str
) -> None:
    said = call("new", tmp_path / "mine.toml", *arguments)
    assert (said.code, said.out) == (2, "")
    assert named in said.err
    assert not list(tmp_path.iterdir())
    told = call("new", tmp_path / "mine.toml", *arguments, "--json")
    assert told.code == 2
    assert told.json("new")["result"] is None


@pytest.mark.usefixtures("few_parents")
def test_a_starter_is_written_whole_or_not_at_all(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The text takes its name in one step, the last one; when that fails nothing is left, under no name."""
    seen: list[str] = []

    def broken(self: Path, target: Path) -> Path:
        assert Path(target).read_text(encoding="utf-8") == ""  # the name is held, nothing stands under it yet
        seen.append(self.read_text(encoding="utf-8"))
        raise OSError(5, "input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", broken)
        said = call("new", tmp_path / "mine.toml", "--wish", SIX)
    assert (said.code, said.out) == (2, "")
    assert "cannot be written" in said.err
    (whole,) = seen
    assert tomllib.loads(whole)["rigs"]
    assert not list(tmp_path.iterdir())
    said = call("new", tmp_path / "none" / "mine.toml", "--wish", SIX)
    assert said.code == 2
    assert "make its folder first" in said.err


@pytest.mark.usefixtures("few_parents")
def test_an_own_chip_by_its_path(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    folder = ROOT / "src" / "scanloom" / "handbook" / "tables" / "chips"
    record = (folder / "rp2040.toml").read_text(encoding="utf-8").replace('name = "rp2040"', 'name = "own"', 1)
    Path("own.toml").write_text(record, encoding="utf-8")
    assert call("new", "mine.toml", "--wish", "2 green", "--chip", "./own.toml").code == 0
    assert tomllib.loads(Path("mine.toml").read_text(encoding="utf-8"))["chip"]["like"] == "./own.toml; guess"
    assert call("check", "mine.toml").code in (0, 1)
    Path("deep").mkdir()  # typed from here, named from the dossier
    assert call("new", "deep/mine.toml", "--wish", "2 green", "--chip", "own.toml").code == 0
    assert tomllib.loads(Path("deep/mine.toml").read_text(encoding="utf-8"))["chip"]["like"] == "../own.toml; guess"
    assert call("check", "deep/mine.toml").code in (0, 1)


@pytest.mark.usefixtures("few_parents")
def test_a_file_that_came_meanwhile_is_not_written_over(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The name is free when the search starts and taken when it ends."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Path, "exists", lambda self, **_: False)
    Path("mine.toml").write_text("mine\n", encoding="utf-8")
    said = call("new", "mine.toml", "--wish", "2 green")
    assert said.code == 2
    assert "exists" in said.err
    assert Path("mine.toml").read_text(encoding="utf-8") == "mine\n"


@pytest.mark.usefixtures("few_parents")
@pytest.mark.parametrize("wish", [*WISHES, TOO_MUCH])
def test_text_keeps_to_80_columns(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wish: str) -> None:
    monkeypatch.chdir(tmp_path)
    calls = [("fit", wish), ("fit", wish, "--chip", "wifi240", "--limit", "40")]
    if wish != TOO_MUCH:
        calls += [("new", "mine.toml", "--wish", wish), ("check", "mine.toml")]
    for arguments in calls:
        said = call(*arguments)
        wide = [line for line in said.out.splitlines() if len(line) > 80 and not line.startswith("Next: ")]
        assert not wide, (arguments, wide[:3])
        assert said.out.strip()
    # what the sheet says to type next is one line, so that it can be copied
    if wish != TOO_MUCH:
        hint = call("fit", wish).out.rpartition("Next: scanloom ")[2].rstrip("\n")
        assert re.fullmatch(rf"new mine\.toml --wish '{re.escape(wish)}' --chip [a-z0-9-]+(?: --row 1)?", hint), hint


# the newcomer's path


@pytest.fixture
def newcomer(monkeypatch: pytest.MonkeyPatch) -> Iterator[ModuleType]:
    """The module scripts/newcomer.py."""
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    yield importlib.import_module("newcomer")
    sys.modules.pop("newcomer")


def test_the_newcomers_path_in_processes_of_its_own(newcomer: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    """Quick, since it looks at one chip; generous, since other tests may run beside it."""
    assert newcomer.main(["--chip", "rp2040", "--within", "60"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"^in all +\d+\.\d s of 60\.0 s$", said, re.MULTILINE), said
    assert [line for line in said.splitlines() if line.startswith("$ ")] == [
        f"$ scanloom fit '{SIX}' --chip rp2040 --limit 3",
        f"$ scanloom new mine.toml --wish '{SIX}' --chip rp2040",
        "$ scanloom check mine.toml",
    ]


@pytest.mark.parametrize(
    ("answer", "fault"),
    [
        ((0, LAST, 5.1), "too slow: 15.3 s"),
        ((2, LAST, 0.1), "fit: exit code 2"),
        ((0, "Traceback (most recent call last):", 0.1), "fit: exit code 0"),
        ((0, "all holds", 0.1), "check: the last line"),
    ],
    ids=["slow", "refused", "crashed", "hopeful"],
)
def test_the_newcomers_path_fails_when_it_should(
    newcomer: ModuleType,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    answer: tuple[int, str, float],
    fault: str,
) -> None:
    monkeypatch.setattr(newcomer, "typed", lambda *arguments: answer)
    assert newcomer.main([]) == 1
    assert f"newcomer: {fault}" in capsys.readouterr().err
