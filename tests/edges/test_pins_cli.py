"""`scanloom pins` as a script or a person meets it."""

from __future__ import annotations

import contextlib
import io
import json
import shlex
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from scanloom.cli import pins as command
from scanloom.cli.app import run
from scanloom.report.schemas import schema_of

DEMO = Path(__file__).resolve().parents[2] / "examples" / "deep-station"
EVENING = DEMO / "first-evening.toml"


def said(*arguments: str | Path) -> tuple[int, str, str]:
    """Exit code and what was printed."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run([str(word) for word in arguments])
    return code, out.getvalue(), err.getvalue()


def document(*arguments: str | Path) -> tuple[int, dict[str, Any]]:
    """Exit code and result of a call with --json, checked by the published schema."""
    code, out, err = said("pins", *arguments, "--json")
    assert err == ""
    envelope = json.loads(out)
    Draft202012Validator(schema_of("pins")).validate(envelope)
    assert envelope["verdicts"] == []
    return code, envelope["result"]


@pytest.fixture
def crowded(tmp_path: Path) -> Path:
    """The first evening with a bit more of everything than the module has pins for."""
    text = EVENING.read_text(encoding="utf-8")
    old = "depth = { heroes = { red = 1, green = 1, blue = 1 }, relays = { green = 1 } }"
    assert text.count(old) == 1
    path = tmp_path / "crowded.toml"
    path.write_text(text.replace(old, "depth = { heroes = { white = 3 }, relays = { green = 1 } }"), encoding="utf-8")
    return path


def test_a_map_is_shown_with_the_way_to_try_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    code, out, err = said("pins", EVENING)
    assert (code, err) == (0, "")
    assert "J4          green     21    28            moved from 23" in out
    assert "crossings (3 now) 0" in out and "proved best" in out
    (line,) = [line for line in out.splitlines() if line.startswith("Next: ")]
    again = shlex.split(line.removeprefix("Next: "))
    assert again[:3] == ["scanloom", "check", str(EVENING)]
    code, out, err = said(*again[1:], "--json")
    result = json.loads(out)["result"]
    assert err == "" and set(result["tried"]["patches"]) == {"board.connectors.J4.green", "board.connectors.J6.green"}
    assert all(rig["stages"]["lanes"]["crossings"] == 0 for rig in result["rigs"])


def test_nothing_to_change_is_said() -> None:
    code, out, err = said("pins", DEMO / "final.toml")
    assert (code, err) == (0, "")
    assert out.rstrip().endswith("The dossier has this map already; nothing to change.")


def test_a_map_as_json() -> None:
    code, result = document(EVENING)
    assert code == 0
    assert (result["found"], result["proved"], result["chip"]) == ("map", True, "wifi240")
    assert (result["crossings_now"], result["moved"]) == (3, 2)
    assert result["cost"] == result["bound"] == {"last_resort": 0, "added_buffers": 0, "crossings": 0, "noisy": 0}
    assert len(result["given"]) == 12 and len({one["pin"] for one in result["given"]}) == 12
    assert [(one["key"], one["value"]) for one in result["patches"]] == [
        ("board.connectors.J4.green", "21"),
        ("board.connectors.J6.green", "23"),
    ]


def test_what_is_kept_stays() -> None:
    code, result = document(EVENING, "--keep", "J4", "--keep", "J1")
    assert code == 0
    kept = {one["lane"]: (one["now"], one["pin"]) for one in result["given"] if one["kept"]}
    assert kept == {"J1.red": (32, 32), "J1.green": (33, 33), "J1.blue": (25, 25), "J4.green": (23, 23)}
    assert result["cost"]["crossings"] == result["bound"]["crossings"] == 2


def test_no_map_is_1_with_its_proof(crowded: Path) -> None:
    code, result = document(crowded)
    assert code == 1
    assert (result["found"], result["proved"], result["given"], result["cost"]) == ("no map", True, [], None)
    assert len(result["crowd"]) == 24 and len(result["crowd_pins"]) == 22
    code, out, err = said("pins", crowded)
    assert (code, err) == (1, "")
    assert "no map of pins exists under these rules" in out.replace("\n", " ")


def test_a_search_without_time_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    code, result = document(EVENING, "--seconds", "1e-9")
    assert code == 1
    assert (result["found"], result["proved"]) == ("nothing yet", False)


def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(command, "_WAIT_S", -1.0)
    monkeypatch.setenv("TERM", "xterm-256color")
    screen, out = Screen(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(screen):
        assert run(["pins", str(EVENING), "--json"]) == 0
    assert "time to search" in screen.getvalue()
    assert json.loads(out.getvalue())["result"]["found"] == "map"
    assert said("pins", EVENING)[2] == ""


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--keep", "J9"), "--keep: J9 names no connector; J1, J2, J3, J4, J5, J6, sync or all are allowed"),
        (("--seconds", "0"), "--seconds: 0 is no time to search; more than 0, up to 3600 s are allowed"),
        (("--seconds", "nan"), "--seconds: nan is no time to search"),
    ],
)
def test_arguments_that_cannot_be_read_are_2(arguments: tuple[str, ...], message: str) -> None:
    code, out, err = said("pins", EVENING, *arguments)
    assert (code, out) == (2, "")
    assert err.startswith(message)


def test_a_dossier_without_a_chip_is_2(tmp_path: Path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text("[dossier]\nformat = 1\n", encoding="utf-8")
    code, out, err = said("pins", path)
    assert (code, out) == (2, "")
    assert "no chip is stated" in err
