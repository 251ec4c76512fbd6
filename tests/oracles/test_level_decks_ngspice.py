"""Two networks that hobby builders print, and each further style, by ngspice to a microvolt and a microampere.

The decks are written out leg by leg from the values alone; none of the code under test helps to write them.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.amplifier import Amplifier, amplified_level
from scanloom.stages.levels.currents import leg_currents
from scanloom.stages.levels.fan_out import SharedPin, shared_pin_current, shared_white
from scanloom.stages.levels.figures import levels
from scanloom.stages.levels.model import OutputNetwork

Ask = Callable[[str, list[str]], dict[str, float]]
EXACT = Span.exact
ONE_UV, ONE_UA = 1e-6, 1e-6


def test_four_bits_of_common_parts_in_every_code(ask_ngspice: Ask) -> None:
    """510, 1k, 2k, 3k9 with 25 ohm pins from 3.3 V into 75 ohm."""
    parts, pin = (510.0, 1000.0, 2000.0, 3900.0), 25.0
    lines: list[str] = []
    for code in range(16):
        lines.append(f"Rt{code} o{code} 0 75")
        for leg, part in enumerate(parts):
            on = code >> (3 - leg) & 1
            lines += [
                f"V{code}_{leg} s{code}_{leg} 0 {3.3 * on!r}",
                f"R{code}_{leg} s{code}_{leg} o{code} {part + pin!r}",
            ]
    asked = [f"v(o{code})" for code in range(16)] + [f"i(v15_{leg})" for leg in range(4)]
    found = ask_ngspice("\n".join(lines), asked)
    net = OutputNetwork("weighted", tuple(map(EXACT, parts)), EXACT(pin), EXACT(pin), EXACT(3.3), EXACT(75.0))
    for code, level_v in enumerate(levels(net)):
        assert level_v == pytest.approx(found[f"v(o{code})"], rel=0, abs=ONE_UV)
    for leg, amp in enumerate(leg_currents(net)[15]):
        assert amp == pytest.approx(-found[f"i(v15_{leg})"], rel=0, abs=ONE_UA)


def test_eight_bits_of_a_ladder(ask_ngspice: Ask) -> None:
    """180 ohm rungs, 320 ohm legs behind 40 ohm pins and, as its builder left it, a terminator of 320 ohm."""
    codes = (0, 1, 2, 4, 8, 16, 32, 64, 127, 128, 170, 255)
    lines: list[str] = []
    for code in codes:
        lines += [f"Rt{code} n{code}_7 0 75", f"Re{code} n{code}_0 0 320"]
        for bit in range(8):
            on = code >> bit & 1
            lines += [f"V{code}_{bit} s{code}_{bit} 0 {3.3 * on!r}", f"Ro{code}_{bit} s{code}_{bit} n{code}_{bit} 360"]
            lines += [f"Rr{code}_{bit} n{code}_{bit} n{code}_{bit + 1} 180"] if bit < 7 else []
    found = ask_ngspice("\n".join(lines), [f"v(n{code}_7)" for code in codes] + [f"i(v{code}_7)" for code in codes])
    net = OutputNetwork(
        "ladder", (EXACT(320.0),) * 8, EXACT(40.0), EXACT(40.0), EXACT(3.3), EXACT(75.0),
        rung_ohm=(EXACT(180.0),) * 7, terminator_ohm=EXACT(320.0),
    )  # fmt: skip
    level_v, amps = levels(net), leg_currents(net)
    for code in codes:
        assert level_v[code] == pytest.approx(found[f"v(n{code}_7)"], rel=0, abs=ONE_UV)
        assert amps[code][0] == pytest.approx(-found[f"i(v{code}_7)"], rel=0, abs=ONE_UA)


def test_matched_shared_and_amplified(ask_ngspice: Ask) -> None:
    deck = """
Vm sm 0 3.3
Rm sm m 205
Rsh m 0 130
Rlm m 0 75
Vs ss 0 3.3
Rp ss p 25
R1 p a 200
R2 p b 200
R3 p c 200
Rl1 a 0 75
Rl2 b 0 75
Rl3 c 0 75
Va sa 0 3.3
Ra sa ia 2725
Rsa ia 0 750
Ea oa 0 ia 0 2
Rb oa da 75
Rla da 0 75
"""
    found = ask_ngspice(deck, ["v(m)", "v(a)", "i(vs)", "v(da)", "i(ea)"])
    pin, rail, load = EXACT(25.0), EXACT(3.3), EXACT(75.0)
    matched = OutputNetwork("series", (EXACT(180.0),), pin, pin, rail, load, EXACT(130.0))
    assert levels(matched)[1] == pytest.approx(found["v(m)"], rel=0, abs=ONE_UV)
    shared = SharedPin(pin, rail, EXACT(200.0), load, 3)
    assert shared_white(shared).typical == pytest.approx(found["v(a)"], rel=0, abs=ONE_UV)
    assert shared_pin_current(shared).typical == pytest.approx(-found["i(vs)"], rel=0, abs=ONE_UA)
    into = OutputNetwork("series", (EXACT(2700.0),), pin, pin, rail, EXACT(750.0))
    amplifier = Amplifier(2.0, EXACT(75.0), load, EXACT(0.0))
    assert amplified_level(EXACT(levels(into)[1]), amplifier).typical == pytest.approx(
        found["v(da)"], rel=0, abs=ONE_UV
    )
