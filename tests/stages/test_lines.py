"""Figures of cables and of shared syncs, each with where it comes from."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from scanloom.basis.span import Span
from scanloom.basis.verdict import Verdict
from scanloom.circuit.bounce import first_waves, staircases
from scanloom.circuit.branched import Branch, BranchedLine, receiver_edges
from scanloom.circuit.line import copper_resistance, line_attenuation_db, line_of_sheet
from scanloom.circuit.pixel import path_figures
from scanloom.circuit.signal_path import Leg, SignalPath
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.handbook.cables import cable, cable_kinds, cable_line
from scanloom.stages.levels.edges_exact import channel_path, propose_branch, sync_edges
from scanloom.stages.levels.edges_plan import measure_sync_edges, propose_sync_branch
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.sync import SharedSync, SyncInput
from scanloom.survey import survey_plan


@pytest.mark.parametrize("kind", cable_kinds())
def test_a_line_has_the_loss_of_its_sheet(kind: str) -> None:
    row, line = cable(kind), cable_line(kind)
    assert line_attenuation_db(line, 10e6) == pytest.approx(row.attenuation_db_per_m, rel=1e-9)
    assert line.impedance_ohm == pytest.approx(row.impedance_ohm)
    assert line.resistance_ohm_per_m > 0.0


def test_catalogue_losses_of_a_miniature_cable() -> None:
    """Catalogue page of a 23 AWG 75 ohm cable, dB per 100 ft; fitted at 10 MHz alone, so up to an eighth off elsewhere."""
    line = cable_line("mini 23 awg")
    for mhz, db_per_100ft in ((5, 0.92), (10, 1.2), (25, 1.8), (67.5, 2.83), (100, 3.39)):
        assert line_attenuation_db(line, mhz * 1e6) * 30.48 == pytest.approx(db_per_100ft, rel=0.135)


def test_copper_of_known_thickness() -> None:
    """0.30 mm of annealed copper: 1.724e-8 ohm m over the cross-section is 0.244 ohm/m; handbook figure of copper."""
    assert copper_resistance(2.61e-7 * (10e6) ** 0.5 / (3.14159265 * 0.30e-3)) == pytest.approx(0.2439, abs=1e-4)


@pytest.mark.parametrize(
    ("loss_db", "clock_mhz", "one_db_m", "three_db_m"),
    [  # the project's own table of lengths for a loss at half the pixel clock, derived: loss grows with the root
        (4.0, 25.175, 22, 67), (4.0, 40, 18, 53), (4.0, 65, 14, 42),
        (6.5, 25.175, 14, 41), (6.5, 40, 11, 33), (6.5, 65, 8.5, 26),
        (9.0, 25.175, 10, 30), (9.0, 40, 8, 24), (9.0, 65, 6, 18),
    ],
)  # fmt: skip
def test_lengths_for_a_loss(loss_db: float, clock_mhz: float, one_db_m: float, three_db_m: float) -> None:
    line = line_of_sheet(75.0, 0.66, loss_db / 100.0)
    per_m = line_attenuation_db(line, clock_mhz * 1e6 / 2.0)
    assert 1.0 / per_m == pytest.approx(one_db_m, rel=0.06)
    assert 3.0 / per_m == pytest.approx(three_db_m, rel=0.06)


TABLE = [  # the project's own table, derived by an earlier model: worst contrast of phases 0.5 to 0.9, 279 and 75 ohm
    (4.0, 20, (0.91, 0.87, 0.86), (0.91, 0.88, 0.84)),
    (4.0, 30, (0.86, 0.80, 0.72), (0.87, 0.82, 0.75)),
    (4.0, 50, (0.78, 0.68, 0.57), (0.78, 0.71, 0.59)),
    (6.5, 20, (0.87, 0.80, 0.75), (0.90, 0.85, 0.77)),
    (6.5, 30, (0.79, 0.71, 0.58), (0.84, 0.76, 0.64)),
    (9.0, 20, (0.83, 0.74, 0.63), (0.87, 0.80, 0.69)),
    (9.0, 30, (0.73, 0.62, 0.44), (0.80, 0.69, 0.52)),
]


@pytest.mark.parametrize(("loss_db", "length_m", "unmatched", "matched"), TABLE)
def test_contrast_of_alternating_pixels(
    loss_db: float, length_m: float, unmatched: tuple[float, ...], matched: tuple[float, ...]
) -> None:
    """Capacitances of that table are not written down, nor all resistances; ours lies within 0.04 of it."""
    line = line_of_sheet(75.0, 0.66, loss_db / 100.0, {4.0: 0.06, 6.5: 0.45, 9.0: 0.6}[loss_db])
    for source_ohm, row in ((279.0, unmatched), (75.0, matched)):
        for clock_mhz, wanted in zip((25.175, 40.0, 65.0), row, strict=True):
            path = SignalPath((Leg(25.0, 25.0, source_ohm - 25.0, 5e-12),), line, length_m, 75.0, 8e-12, 10e-12)
            found = path_figures(path, 1e-6 / clock_mhz, 2e-9, echoes=0)
            assert found.contrast == pytest.approx(wanted, abs=0.04), (source_ohm, clock_mhz)


def test_the_first_echo_follows_after_two_trips() -> None:
    """2 m at 0.66 of light: 20.2 ns there and back; 150 ohm at the end and 279 ohm at the source turn 0.333 x 0.576."""
    line = line_of_sheet(75.0, 0.66, 0.0)
    path = SignalPath((Leg(25.0, 25.0, 254.0),), line, 2.0, 150.0)
    ghost = path_figures(path, 40e-9, 2e-9).ghosts[0]
    assert ghost.delay_px == pytest.approx(20.2 / 40, abs=0.01)
    assert ghost.share == pytest.approx((279 - 75) / (279 + 75) * (150 - 75) / (150 + 75), abs=2e-3)


def random_output(seed: int) -> BranchedLine:
    """Outputs as boards have them: one to six displays, real cables, with and without branch parts."""
    draw = random.Random(seed)
    kind = cable_line(draw.choice(["rg59", "thin", "mini 23 awg"]))
    same, length_m, part = draw.random() < 0.5, draw.uniform(1.0, 12.0), draw.choice([0.0, 22.0, 47.0, 68.0, 100.0])
    many = tuple(
        Branch(
            part, kind, length_m if same else draw.uniform(1.0, 15.0), draw.choice([1000.0, 2200.0, 4700.0]),
            draw.uniform(5e-12, 15e-12),
        )
        for _ in range(draw.choice([1, 2, 3, 4, 6]))
    )  # fmt: skip
    ohm = draw.uniform(8.0, 40.0)
    return BranchedLine(ohm, ohm * 0.8, 3.3, many, draw.uniform(1e-9, 5e-9), draw.choice([0.0, 0.0, 33.0]))


def test_the_staircase_judges_as_the_whole_solution_does() -> None:
    """Of some sixty receivers at most one in twenty is taken for quick (80 ns) though the whole solution is not."""
    receivers = wrong = late = 0
    for seed in range(20):
        net = random_output(seed)
        slow = staircases(net, 0.8, 2.0, slow=True)
        for stairs, edges in zip(slow, receiver_edges(net, 0.8, 2.0), strict=True):
            receivers += 1
            whole = [edge.between_s for edge in (edges.rising, edges.falling)]
            is_late = any(time_s is None or time_s > 80e-9 for time_s in whole)
            back = max(edges.rising.back_v, edges.falling.back_v)
            late += is_late
            taken = stairs.between_s is not None and stairs.between_s <= 80e-9 and stairs.back_v <= 0.05
            wrong += taken and (is_late or back > 0.15)
    assert receivers > 40
    assert late > 3, "nothing here is slow"
    assert wrong <= receivers // 20


def test_first_wave_by_hand() -> None:
    """12 ohm into two of 47 + 75 ohm: 3.3 x 61 / 73 at the node, 75 / 122 of it on each line, doubled at an open end."""
    line = line_of_sheet(75.0, 0.66, 0.0)
    net = BranchedLine(12.0, 12.0, 3.3, (Branch(47.0, line, 5.0, 1e9),) * 2, 2e-9)
    assert first_waves(net) == pytest.approx([3.3 * 61 / 73 * 75 / 122 * 2] * 2, rel=1e-6)


def output(lengths: tuple[float, ...], branch_ohm: float | None = None, series_ohm: float | None = None) -> tuple:  # type: ignore[type-arg]
    """An output of a buffer and the cables on it."""
    exact = Span.exact
    part = None if branch_ohm is None else exact(branch_ohm)
    shared = SharedSync(
        Span(8.0, 12.0, 33.3), Span(8.0, 12.0, 22.9), Span(3.25, 3.3, 3.35),
        (SyncInput(exact(2200.0), part),) * len(lengths), None if series_ohm is None else exact(series_ohm),
    )  # fmt: skip
    return shared, tuple((cable_line("thin"), exact(length_m)) for length_m in lengths)


def test_edges_of_one_output_solved_in_full() -> None:
    """Common practice: a part near the line's impedance behind each output, or the far end rings."""
    bare, cables = output((10.0, 12.0))
    fitted, _ = output((10.0, 12.0), 47.0)
    net = OutputNetwork(
        "series", (Span.exact(240.0),), Span.exact(25.0), Span.exact(25.0), Span.exact(3.3), Span.exact(75.0)
    )
    colours = tuple(channel_path(net, line, length.typical, 5e-12, 15e-12, 8e-12) for line, length in cables)
    ringing, quiet = sync_edges(bare, cables), sync_edges(fitted, cables, colours)
    assert max(edges.again for edges in ringing) >= 1
    assert [edges.again for edges in quiet] == [0, 0]
    assert max(edges.overshoot_v for edges in quiet) < 0.5 < max(edges.overshoot_v for edges in ringing)
    for edges in quiet:
        assert edges.between_s is not None and edges.between_s < 5e-9
        assert edges.rise_after_s is not None and abs(edges.rise_after_s) < 5e-9
        assert edges.fall_after_s is not None and abs(edges.fall_after_s) < 5e-9


def test_a_branch_part_is_proposed_and_nothing_beats_it() -> None:
    shared, cables = output((10.0, 12.0))
    found = propose_branch([(shared, cables)], "E12")
    assert (found.outputs, found.proved) == ("as asked", True)
    assert found.branch_ohm is not None and 20.0 < found.branch_ohm < 80.0
    assert found.between_s < 10e-9
    # the answer, fitted, is as clean as it says
    fitted, _ = output((10.0, 12.0), found.branch_ohm)
    edges = sync_edges(fitted, cables)
    assert max(one.overshoot_v for one in edges) == pytest.approx(found.overshoot_v, abs=1e-6)
    assert max(one.again for one in edges) == 0


def test_six_long_cables_need_outputs_of_their_own() -> None:
    shared, cables = output((2.0, 2.0, 2.0, 2.0, 10.0, 12.0))
    found = propose_branch([(shared, cables)], "E12")
    assert found.outputs == "one per display"
    assert found.branch_ohm is not None


def plan_of(sync: str, cables: tuple[str, ...]) -> Plan:
    """Displays that share a sync, each with its cable."""
    names = [f"d{at}" for at in range(len(cables))]
    displays = "\n".join(
        f"[[displays]]\nname = '{name}'\nsync_load = '2.2 kohm; measured'\ncolour_load = '75 ohm'\n"
        + (f"cable = '{cable}'" if cable else "")
        for name, cable in zip(names, cables, strict=True)
    )
    connectors = ", ".join(
        f"{{ name = 'J{at}', plugs = '{name}', green = {pin} }}"
        for at, (name, pin) in enumerate(zip(names, (32, 33, 25, 13, 4, 18), strict=False))
    )
    text = (
        "[dossier]\nformat = 1\n[chip]\nlike = 'wifi240'\npin_high = '25 ohm'\npin_low = '20 ohm'\nrail = '3.3 V'\n"
        f"{displays}\n[board]\nsync = {{ h = 26, v = 27 }}\nconnectors = [{connectors}]\n"
        f"[levels]\ncolour = {{ style = 'series', part = '240 ohm' }}\nsync = {sync}\n"
        "[[rigs]]\nname = 'r'\nstream = '8 lanes'\nraster = { parent = '640x480@60' }\ndepth = { "
        + ", ".join(f"{name} = {{ green = 1 }}" for name in names)
        + " }"
    )
    return read_dossier_text(text, Path("test.toml")).plan


def edge_verdicts(sync: str, cables: tuple[str, ...]) -> list[Verdict]:
    """Verdicts on the edges of displays that share a sync, first to last."""
    return [v for v in survey_plan(plan_of(sync, cables)).verdicts if v.code == "levels.sync-edge"]


BUFFERED = "{ style = 'buffered', buffer = 'LVC', outputs = 'one per display', branch = '47 ohm ± 5 %' }"


def test_edges_hold_behind_outputs_of_their_own() -> None:
    found = edge_verdicts(BUFFERED, ("thin, 12 m", "thin, 2 m", "rg59, 10 m"))
    assert [(v.state, v.weight, v.remedy) for v in found] == [("holds", "caution", ())] * 3
    assert any(fact.key == "displays.d0.cable" for fact in found[0].rests_on)
    assert not any(fact.key == "displays.d0.cable" for fact in found[1].rests_on)


def test_edges_fail_where_one_pin_feeds_six_long_cables() -> None:
    """Its clean twin is the test above: 100 ohm into six lines of 75 ohm starts at a tenth of the rail."""
    found = edge_verdicts("{ style = 'series', part = '100 ohm' }", ("thin, 12 m",) * 6)
    assert {v.state for v in found} == {"fails"}
    assert all(v.remedy and v.remedy[0].key == "levels.sync" for v in found)
    mended = edge_verdicts(found[0].remedy[0].value, ("thin, 12 m",) * 6)
    assert {v.state for v in mended} == {"holds"}


def test_a_cable_that_nobody_states_leaves_all_on_its_output_unknown() -> None:
    shared = BUFFERED.replace("one per display", "one")
    assert [v.state for v in edge_verdicts(shared, ("thin, 2 m", ""))] == ["unknown", "unknown"]
    apart = edge_verdicts(BUFFERED, ("thin, 2 m", ""))
    assert [v.state for v in apart] == ["holds", "unknown"]
    assert apart[1].settle is not None and apart[1].settle.fact == "displays.d1.cable"


def test_a_bare_output_rings_and_a_branch_part_mends_it() -> None:
    """12 ohm into 75 ohm: an edge shoots up by three quarters, and comes back below 2.0 V after two trips."""
    bare = "{ style = 'buffered', buffer = 'LVC', outputs = 'one per display' }"
    found = edge_verdicts(bare, ("thin, 12 m",))[0]
    assert found.state == "fails"
    assert "twice" in found.says
    assert [patch.key for patch in found.remedy] == ["levels.sync.branch"]
    mended = edge_verdicts(bare.replace(" }", f", branch = {found.remedy[0].value} }}"), ("thin, 12 m",))[0]
    assert mended.state == "holds"


def test_a_part_is_proposed_for_a_whole_plan_and_mends_it() -> None:
    cables = ("thin, 12 m", "thin, 10 m", "thin, 2 m")
    plan = plan_of("{ style = 'series', part = '100 ohm' }", cables)
    reading = Reading(plan, plan.dossier.rigs[0])
    before = measure_sync_edges(reading)
    assert [one.display for one in before] == ["d0", "d1", "d2"]
    assert max(one.edges.value.between_s or 1.0 for one in before) > 80e-9
    assert any(fact.key == "displays.d0.cable" for fact in before[1].edges.facts)  # they share an output
    proposed = propose_sync_branch(reading, "E12")
    assert proposed is not None
    found, patch = proposed
    assert found.value.outputs == "one per display"
    mended = plan_of(patch.value, cables)
    assert {v.state for v in edge_verdicts(patch.value, cables)} == {"holds"}
    after = measure_sync_edges(Reading(mended, mended.dossier.rigs[0]))
    assert max(one.edges.value.between_s or 1.0 for one in after) < 10e-9
    assert not any(fact.key == "displays.d0.cable" for fact in after[1].edges.facts)


def test_nothing_is_proposed_while_no_cable_is_known() -> None:
    plan = plan_of(BUFFERED, ("", ""))
    assert propose_sync_branch(Reading(plan, plan.dossier.rigs[0])) is None
    assert measure_sync_edges(Reading(plan, plan.dossier.rigs[0])) == ()
