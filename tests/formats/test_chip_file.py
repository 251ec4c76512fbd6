"""A maker's own chip record: the same checks as the handbook's, every fault at its place, banks judged."""

from __future__ import annotations

from pathlib import Path

import pytest

from scanloom.cli.app import run
from scanloom.formats.chip_file import read_chip
from scanloom.formats.dossier_file import read_dossier
from scanloom.formats.input_error import InputError
from scanloom.handbook.chip import ChipTable
from scanloom.handbook.chips import chip, chip_names
from scanloom.handbook.load import TABLES
from scanloom.survey import survey_plan
from scanloom.survey.trial import try_patches

OWN = """
[sources.sheet]
title = "Datasheet of my chip"
standing = "datasheet"

[chip]
name = "mine"
title = "an invented chip with two banks"
kind = "part"
source = "sheet"
place = "page 1"

[[state]]
name = "bare"
free = "400000 B"
source = "sheet"
place = "page 2"

[[stream]]
name = "8 lanes"
lanes = 8
words_per_read = 4
read_bytes = 4
slot_bits = 8
order = [0, 1, 2, 3]
planned = "30 MHz"
hard = "40 MHz"
limited_by = "the bus"
source = "sheet"
place = "page 3"

[transfer]
entry_bytes = 8
longest_run_bytes = 4096
allocation_bytes = 0
source = "sheet"
place = "page 3"

[[clock]]
name = "main"
reference_hz = 100_700_000
source = "sheet"
place = "page 4"
[[clock.steps]]
name = "k"
op = "divide"
first = 1
last = 64

[[routing]]
rule = "any"
fan_out = true
source = "sheet"
place = "page 5"

[[current]]
name = "pin"
amount = "20 mA"
over = "each pin"
source = "sheet"
place = "page 6"
[[current]]
name = "bank A"
amount = "18 mA"
over = "all pins"
pins = [0, 1, 2]
source = "sheet"
place = "page 6"
[[current]]
name = "bank B"
amount = "18 mA"
over = "all pins"
pins = [3, 4, 5]
source = "sheet"
place = "page 6"
[[current]]
name = "all"
amount = "60 mA"
over = "all pins"
source = "sheet"
place = "page 6"

[pins]
pins = [0, 1, 2, 3, 4, 5]
source = "sheet"
place = "page 7"
"""
DOSSIER = """
[dossier]
format = 1
[chip]
like = "./mine.toml"
pin_high = "25 ohm; measured"
pin_low = "20 ohm; measured"
rail = "3.3 V; measured"
keep_back = "1000 B; because"
[[displays]]
name = "a"
line_rate = "30 .. 60 kHz; sheet"
frame_rate = "50 .. 75 Hz; sheet"
colour_load = "75 ohm; measured"
sync_load = "10 kohm; measured"
sync_pull = "none; measured"
[board]
sync = { h = 4, v = 5 }
connectors = [{ name = "J1", plugs = "a", red = 0, green = 1, blue = 3 }]
[levels]
colour = { style = "series", part = "253.5714 ohm; measured" }
sync = { style = "direct" }
[[rigs]]
name = "r"
firmware = "bare"
stream = "8 lanes"
raster = { parent = "640x480@60", divide = 1, repeat = 1, picture = "640x480" }
depth = { a = { red = 1, green = 1, blue = 1 } }
"""


@pytest.mark.parametrize("name", chip_names())
def test_the_handbooks_own_records_pass_as_files(name: str) -> None:
    path = TABLES / "chips" / f"{name}.toml"
    assert read_chip(path).table == chip(name).table


def test_a_dossier_with_its_own_chip_is_judged_on_its_facts(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(OWN, encoding="utf-8")
    (tmp_path / "d.toml").write_text(DOSSIER, encoding="utf-8")
    found = survey_plan(read_dossier(tmp_path / "d.toml").plan)
    banks = {v.subject.rsplit(".", 1)[1]: v for v in found.verdicts if v.code == "levels.bank-current"}
    # 0.7 V / 75 ohm = 9.33 mA a channel: red and green on bank A, blue and both syncs (0.33 mA each) on bank B
    assert banks["bank-a"].found is not None and banks["bank-a"].found.typical == pytest.approx(2 * 0.7 / 75, rel=1e-6)
    assert banks["bank-b"].found is not None and banks["bank-b"].found.typical == pytest.approx(
        0.7 / 75 + 2 * 3.3 / 10025, rel=1e-6
    )
    assert (banks["bank-a"].state, banks["bank-a"].weight, banks["bank-b"].state) == ("fails", "stop", "holds")
    blocks = next(v for v in found.verdicts if v.code == "memory.blocks")
    assert (blocks.state, blocks.on_guess) == ("holds", False)
    assert found.rigs[0].clock is not None and found.rigs[0].clock.value.candidate.achieved_hz == 25_175_000


def test_buffers_offered_for_an_overloaded_bank_mend_it(tmp_path: Path) -> None:
    """A full survey with the patch: the bank carries microamperes, and white lies in its window as before."""
    (tmp_path / "mine.toml").write_text(OWN, encoding="utf-8")
    (tmp_path / "d.toml").write_text(DOSSIER, encoding="utf-8")
    file = read_dossier(tmp_path / "d.toml")
    banks = {v.subject.rsplit(".", 1)[1]: v for v in survey_plan(file.plan).verdicts if v.code == "levels.bank-current"}
    assert banks["bank-b"].remedy == ()
    [patch] = banks["bank-a"].remedy
    assert patch.key == "levels.colour" and "1 package for 3 outputs" in patch.says
    trial = try_patches(file, [(patch.key, patch.value)])
    assert {change.after.subject.rsplit(".", 1)[1] for change in trial.mended if change.after} == {"bank-a"}
    assert not [change for change in trial.broken if change.after and change.after.weight == "stop"]


@pytest.mark.parametrize(
    "missing", ["[transfer]", "[[routing]]", "[pins]", "[[clock]]", "[[current]]", "[[state]]", "[[stream]]"]
)
def test_what_a_record_leaves_out_is_unknown_never_a_pass(tmp_path: Path, missing: str) -> None:
    start = OWN.index(missing)
    rest = [
        i
        for i in (
            OWN.find(f"\n{mark}", start + 1)
            for mark in ("[transfer]", "[[routing]]", "[pins]", "[[current]]", "[[stream]]", "[[clock]]")
        )
        if i > 0
    ]
    cut = OWN[:start] + (OWN[min(rest) :] if rest else "")
    while missing in cut and missing.startswith("[["):
        start = cut.index(missing)
        rest = [
            i
            for i in (
                cut.find(f"\n{mark}", start + 1)
                for mark in ("[transfer]", "[[routing]]", "[pins]", "[[current]]", "[[stream]]", "[[clock]]")
            )
            if i > 0
        ]
        cut = cut[:start] + (cut[min(rest) :] if rest else "")
    (tmp_path / "mine.toml").write_text(cut, encoding="utf-8")
    (tmp_path / "d.toml").write_text(DOSSIER, encoding="utf-8")
    found = survey_plan(read_dossier(tmp_path / "d.toml").plan)
    assert any(v.state == "unknown" and v.weight == "stop" for v in found.verdicts), missing
    assert found.exit_code() == 1


def test_every_fault_of_a_record_is_reported_with_its_place(tmp_path: Path) -> None:
    broken = (
        OWN.replace('amount = "20 mA"', 'amount = "20 mV"')
        .replace('kind = "part"', 'kind = "chip"')
        .replace("entry_bytes = 8", "entry_size = 8")
    )
    (tmp_path / "mine.toml").write_text(broken, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_chip(tmp_path / "mine.toml", "mine.toml")
    faults = {f.path: f for f in caught.value.faults}
    assert set(faults) == {"chip.kind", "transfer.entry_size", "current.pin.amount"}
    assert "did you mean 'entry_bytes'?" in faults["transfer.entry_size"].text
    assert all(f.line > 1 and f.file == "mine.toml" for f in faults.values())
    (tmp_path / "mine.toml").write_text(
        OWN.replace("order = [0, 1, 2, 3]", "order = [0, 1, 2, 2]").replace(
            'source = "sheet"\nplace = "page 7"', 'source = "shet"\nplace = "p"'
        ),
        encoding="utf-8",
    )
    with pytest.raises(InputError) as caught:
        read_chip(tmp_path / "mine.toml", "mine.toml")
    assert {f.path for f in caught.value.faults} == {"stream.8 lanes.order", "pins.source"}


def test_the_template_passes_as_it_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["chip", "--template"]) == 0
    text = capsys.readouterr().out
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    assert read_chip(tmp_path / "mine.toml").name == "my-chip"
    for kind in ChipTable.model_fields:  # every table but those few parts need is in it
        assert f"[{kind}]" in text or f"[[{kind}]]" in text or f"[{kind}." in text or kind == "external", kind
