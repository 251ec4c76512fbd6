"""Ground bounce, dark channel and dip of the rail by the formulas of levels and by ngspice, to about 15 %.

The decks hold the outputs that switch as one output of so many times their strength, driven from the chip's own rail
and ground, and one output that is held low. What the formulas leave out the decks have: capacitance at the connectors,
current that the moved ground takes back, the rail that gives way.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.figures import levels
from scanloom.stages.levels.ground import SupplyPath, disturbance
from scanloom.stages.levels.model import OutputNetwork

EXACT = Span.exact
PIN_OHM, PART_OHM, LOAD_OHM, RAIL_V = 25.0, 253.6, 75.0, 3.3
MEASURED = re.compile(r"^(\w+)\s*=\s*([-+0-9.eE]+)", re.MULTILINE)


def simulated(elements: str, measures: str, stop_s: float, folder: Path) -> dict[str, float]:
    program = shutil.which("ngspice")
    if program is None:
        missing = (
            "ngspice is not installed (Debian package ngspice); switching is not compared with a circuit simulator"
        )
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    deck = folder / "deck.cir"
    deck.write_text(
        f"* switching\n{elements}\n.options reltol=1e-4\n.control\ntran 50p {stop_s!r} 0 50p uic\n{measures}\nquit\n.endc\n.end\n"
    )
    done = subprocess.run([program, "-n", "-b", deck.name], cwd=folder, capture_output=True, text=True, timeout=120)
    found = {name: float(value) for name, value in MEASURED.findall(done.stdout)}
    assert found, done.stdout[-2000:] + done.stderr[-2000:]
    return found


def switching_deck(outputs: int, ground_h: float, edge_s: float, ground_ohm: float = 0.02) -> str:
    """So many outputs go high together at 20 ns; the victim z is held low by the chip's own ground g."""
    pin, part, load = PIN_OHM / outputs, PART_OHM / outputs, LOAD_OHM / outputs
    return "\n".join(
        [
            f"Vreg vr 0 {RAIL_V}",
            "Rreg vr vx 0.05",
            "Lreg vx vd 200n IC=0",
            "Rd vd d1 0.01",
            "Ld d1 d2 0.5n IC=0",
            f"Cd d2 g 1u IC={RAIL_V}",
            f"Lg g g1 {ground_h!r} IC=0",
            f"Rg g1 0 {ground_ohm!r}",
            f"Vf f 0 PWL(0 0 20n 0 {20e-9 + edge_s!r} 1)",
            "Bp p 0 V=v(f)*v(vd)+(1-v(f))*v(g)",
            f"Ro p q {pin!r}",
            f"Ra q a {part!r}",
            f"Rl a 0 {load!r}",
            f"Ca a 0 {outputs * 8e-12!r} IC=0",
            # what the high outputs take from the rail, and what the low ones give to the chip's ground
            f"Bi vd 0 I=v(f)*(v(p)-v(q))/{pin!r}",
            f"Bj 0 g I=-(1-v(f))*(v(p)-v(q))/{pin!r}",
            f"Rov g z {PIN_OHM!r}",
            f"Rv z v {PART_OHM!r}",
            f"Rlv v 0 {LOAD_OHM!r}",
            "Cv v 0 8p IC=0",
        ]
    )


@pytest.mark.parametrize(
    ("outputs", "ground_h", "edge_s"),
    [(17, 1e-9, 2e-9), (8, 4e-9, 2e-9), (12, 2e-9, 4e-9)],  # the first two as known to others, the third our own
)
def test_bounce_and_what_a_dark_channel_sees(outputs: int, ground_h: float, edge_s: float, tmp_path: Path) -> None:
    # the current comes back to the chip through its ground, so ground falls as they go to white and rises as they go back
    measures = "meas tran bounce MIN v(g) from=20n to=60n\nmeas tran dark MIN v(v) from=20n to=60n"
    found = simulated(switching_deck(outputs, ground_h, edge_s), measures, 70e-9, tmp_path)
    net = OutputNetwork("series", (EXACT(PART_OHM),), *(EXACT(PIN_OHM),) * 2, EXACT(RAIL_V), EXACT(LOAD_OHM))
    white_v = levels(net)[-1]
    ours = disturbance(path(ground_h, edge_s), EXACT(outputs * white_v / LOAD_OHM))
    assert ours.bounce_v.typical == pytest.approx(-found["bounce"], rel=0.15)
    assert ours.bounce_v.typical * white_v / RAIL_V == pytest.approx(-found["dark"], rel=0.15)


def path(ground_h: float, edge_s: float, **changes: Span | int) -> SupplyPath:
    usual: dict[str, Span | int] = {
        "ground_h": EXACT(ground_h), "ground_ohm": EXACT(0.02), "pin_h": EXACT(0.0), "supply_pins": EXACT(1.0),
        "capacitor_h": EXACT(1e-9), "capacitors": 4, "capacitor_ohm": EXACT(0.02), "stored_f": EXACT(10e-6),
        "reply_s": EXACT(1e-6), "regulator_ohm": EXACT(0.1), "edge_s": EXACT(edge_s),
    }  # fmt: skip
    return SupplyPath(**(usual | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stored_f", "pin_h", "edge_s", "ground"),
    [(10e-6, 2e-9, 2e-9, "at the edge"), (1e-6, 0.5e-9, 4e-9, "before the answer")],
)
def test_dip_before_the_regulator_answers(
    stored_f: float, pin_h: float, edge_s: float, ground: str, tmp_path: Path
) -> None:
    """168 mA from the rail within an edge; the regulator gives nothing for a microsecond, then all of it."""
    step_a = 0.168
    elements = "\n".join(
        [
            f"Cs s 0 {stored_f!r} IC={RAIL_V}",
            "Rs s t 0.02",
            "Ls t u 0.25n IC=0",
            f"Lp u chip {pin_h / 6!r} IC=0",
            "Rbig chip 0 1meg",
            f"Iload chip 0 PWL(0 0 10n 0 {10e-9 + edge_s!r} {step_a})",
            f"Ireg 0 u PWL(0 0 1010n 0 1011n {step_a})",
        ]
    )
    found = simulated(elements, "meas tran low MIN v(chip) from=1n to=1010n", 1.02e-6, tmp_path)
    ours = disturbance(
        path(1e-9, edge_s, stored_f=EXACT(stored_f), pin_h=EXACT(pin_h), supply_pins=EXACT(6.0)), EXACT(step_a)
    )
    assert ours.dip_v.typical == pytest.approx(RAIL_V - found["low"], rel=0.15), ground
