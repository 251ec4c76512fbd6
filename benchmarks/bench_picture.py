"""The stand-in display: six displays of 800x525 in three channels, beside ngspice on one line of one channel.

ngspice runs in the same session on the same machine, on a lossless line into a load, the least it can be asked for. The
ratio is per pixel: so many samples of all displays in our time, against 800 pixels in its time.
"""

from __future__ import annotations

import shutil
import subprocess
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.picture.effects import Effects, chosen_effects
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, InputCable, usual_front_end
from scanloom.stages.picture.pins import rail_share
from scanloom.stages.picture.show import show_display
from scanloom.stages.timing import child_raster, timing_named

DISPLAYS, CHANNELS, PIXELS = 6, 3, 800 * 525
RASTER = child_raster(timing_named("640x480@60"), 1)
FRONT = usual_front_end()
MORE_THAN = 1000.0
LINEAR = chosen_effects(only=["edges", "cable", "cable-resistance", "converter"])


def rig(part_ohm: float, pin_ohm: float = 30.0) -> tuple[list[DisplayPath], dict[tuple[str, str], Any]]:
    """Six displays, each fed with noise: the picture that no shortcut helps with."""
    exact = Span.exact
    network = OutputNetwork("series", (exact(part_ohm),), exact(pin_ohm), exact(22.0), exact(3.3), exact(75.0))
    cable = InputCable(75.0, 0.66, 0.065, 0.24, 0.02, 10.0)
    displays = [
        DisplayPath(f"d{n}", tuple(ChannelPath(f"d{n}", c, network) for c in COLOURS), cable) for n in range(DISPLAYS)
    ]
    rng = np.random.default_rng(1)
    numbers = {}
    for one in displays:
        for colour in COLOURS:
            bits = rng.integers(0, 2, (525, 800)).astype(np.uint16)
            bits[480:], bits[:, 640:] = 0, 0
            numbers[one.name, colour] = bits
    return displays, numbers


def shown(displays: list[DisplayPath], numbers: dict[tuple[str, str], Any], effects: Effects, front: Any) -> Any:
    """All displays of the rig."""
    share = rail_share(displays, numbers, RASTER, front) if effects.supply_dip else None
    return [show_display(d, {c: numbers[d.name, c] for c in COLOURS}, RASTER, effects, front, share) for d in displays]


@pytest.fixture(scope="module")
def ngspice_pixel_s(tmp_path_factory: pytest.TempPathFactory) -> float:
    """Seconds that ngspice takes for a pixel: one line of 800 pixels, one channel, a lossless cable."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip("ngspice is not installed (Debian package ngspice): nothing to compare with")
    pixel_s, corners, last = RASTER.pixel_s, ["0 0"], 0
    for at, bit in enumerate(np.random.default_rng(2).integers(0, 2, 800)):
        if bit != last:
            edge = at * pixel_s
            corners.append(f"{edge:.12g} {3.3 * last} {edge + 2e-9:.12g} {3.3 * bit}")
            last = int(bit)
    folder = tmp_path_factory.mktemp("ngspice")
    deck = Path(folder) / "line.cir"
    wave = "\n+ ".join(corners)
    deck.write_text(
        f"* one line\nV1 s 0 PWL({wave})\nRo s p 30\nCp p 0 5p\nR1 p a 240\nCc a 0 15p\n"
        f"T1 a 0 b 0 Z0=75 TD=50n\nRl b 0 75\nCl b 0 8p\n.options reltol=1e-4\n.control\nset wr_singlescale\n"
        f"tran 2n {800 * pixel_s:.9g} 0 2n\nlinearize v(b)\nwrdata out.txt v(b)\nquit\n.endc\n.end\n",
        encoding="utf-8",
    )
    best = float("inf")
    for _ in range(3):
        began = time.perf_counter()
        done = subprocess.run([program, "-n", "-b", deck.name], cwd=folder, capture_output=True, check=False)
        best = min(best, time.perf_counter() - began)
        assert (folder / "out.txt").exists(), done.stderr
    return best / 800


@pytest.mark.parametrize(
    ("name", "part_ohm", "effects", "budget_s"),
    [("linear chain", 240.0, LINEAR, 1.0), ("all effects", 240.0, Effects(), 1.0), ("bare pins", 0.0, Effects(), 1.0)],
    ids=lambda value: value.replace(" ", "-") if isinstance(value, str) else "",
)
def test_six_displays(
    benchmark: Any, ngspice_pixel_s: float, name: str, part_ohm: float, effects: Effects, budget_s: float
) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    displays, numbers = rig(part_ohm)
    shown(displays, numbers, effects, FRONT)  # compiled and the filters made
    benchmark.pedantic(shown, args=(displays, numbers, effects, FRONT), rounds=5)
    ratio = ngspice_pixel_s / (benchmark.stats.stats.min / (DISPLAYS * CHANNELS * PIXELS))
    benchmark.extra_info["times_ngspice"] = round(ratio)
    print(f"\n{name}: {ratio:.0f} times as fast per pixel as ngspice on one line of one channel")
    assert ratio > MORE_THAN


def test_six_displays_with_diodes_conducting_everywhere(benchmark: Any) -> None:
    """Rails of 1.8 V under bare pins of 10 ohm: white drives the upper diode until black has fallen far below black."""
    benchmark.extra_info["budget_s"] = 3.0
    front = replace(FRONT, coupling=replace(FRONT.coupling, diode_rail_v=1.8))
    displays, numbers = rig(0.0, 10.0)
    shown(displays, numbers, Effects(), front)
    made = benchmark.pedantic(shown, args=(displays, numbers, Effects(), front), rounds=3)
    assert made[0].traces[0].clamped_v.min() < -0.2
