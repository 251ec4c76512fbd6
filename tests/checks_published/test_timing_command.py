"""All published rows once more, through `scanloom timing --json`: sources as in the heads of the files in data."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from scanloom.cli.app import run

DATA = Path(__file__).parent / "data"


def published(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def asked(words: list[str], capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    assert run(["timing", *words, "--json"]) == 0
    made: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert made["command"] == "timing" and made["verdicts"] == []
    result: dict[str, Any] = made["result"]
    return result


def axes(row: dict[str, str], lines: str) -> tuple[list[str], list[str]]:
    h = [row["h_active"], row["h_front"], row["h_sync"], row["h_back"], row["h_total"], row["hsync_pol"]]
    return h, [row[lines], row["v_front"], row["v_sync"], row["v_back"], row["v_total"], row["vsync_pol"]]


def shown(result: dict[str, Any]) -> tuple[list[str], list[str]]:
    h, v = result["h"], result["v"]
    return (
        [str(h[k]) for k in ("active_px", "front_px", "sync_px", "back_px", "total_px", "polarity")],
        [str(v[k]) for k in ("active_lines", "front_lines", "sync_lines", "back_lines", "total_lines", "polarity")],
    )


def test_dmt_rows(capsys: pytest.CaptureFixture[str]) -> None:
    rows = published("dmt.csv")
    assert len(rows) == 88
    for row in rows:
        result = asked([f"dmt:{row['id']}"], capsys)
        assert shown(result) == axes(row, "v_active"), row["id"]
        assert result["pixel_clock_hz"] == float(row["pixel_clock_khz"]) * 1000
        assert result["frame_rate_hz"] == pytest.approx(float(row["refresh_exact_hz"]), abs=1e-6)
        assert result["line_rate_hz"] == pytest.approx(float(row["line_khz"]) * 1000, abs=1e-3)


@pytest.mark.parametrize(("name", "key"), [
    ("800x600@60", "0x09"), ("1280x768@60-rb", "0x16"), ("1280x768@60", "0x17"), ("1024x768@87i", "0x0F"), ("640x480@60", "0x04"),
    ("4096x2160@59.94-rb", "0x58"),
])  # fmt: skip
def test_names_people_type(name: str, key: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked([name], capsys) == asked([f"dmt:{key}"], capsys)


def test_legacy_rows(capsys: pytest.CaptureFixture[str]) -> None:
    rows = published("legacy.csv")
    assert len(rows) == 29
    for row in rows:
        parent = row["parent"].split(" (")[0]
        if parent.startswith("dmt "):
            parent = parent.removeprefix("dmt ").replace("p", "@")
        times = {"half": "2", "quarter": "4"}.get(row["kind"].split()[0], "1")
        result = asked([parent, "--divide", times, "--repeat", row["line_repeat"]], capsys)
        assert shown(result) == axes(row, "lines_sent_active"), row["mode"]
        assert (result["image_rows"], result["line_repeat"]) == (int(row["image_rows"]), int(row["line_repeat"]))
        assert result["pixel_clock_hz"] == float(row["pixel_clock_khz"]) * 1000
        assert result["frame_rate_hz"] == pytest.approx(float(row["refresh_hz"]), abs=5e-5)
