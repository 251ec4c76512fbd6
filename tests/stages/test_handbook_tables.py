"""Look-ups of levels, cables and buffers; the figures are those of the sources named beside them."""

import pytest

from scanloom.handbook.buffers import buffer, buffer_families
from scanloom.handbook.cables import cable, cable_kinds
from scanloom.handbook.limits import known_limit, limit, limit_names
from scanloom.handbook.sources import source


def test_white_window() -> None:
    # chipset datasheet 317607, CRT DAC table: 0.665, 0.700, 0.770 V into double 75 ohm
    white = limit("white")
    assert (white.low, white.typical, white.high, white.unit) == (0.665, 0.700, 0.770, "V")
    assert source(white.source).is_fact


@pytest.mark.parametrize(
    ("name", "low", "high", "unit", "fact"),
    [
        ("sync-in-low", None, 0.8, "V", True),  # graphics controller guide, TTL separate sync
        ("sync-in-high", 2.0, None, "V", True),
        ("sync-out-low", None, 0.5, "V", False),  # VESA Video Signal Standard, from memory
        ("sync-out-high", 2.4, 5.5, "V", False),
        ("inl", None, 1.0, "LSB", True),  # chipset datasheet 317607
        ("dnl", None, 1.0, "LSB", True),
        ("clock-error", None, 5000.0, "ppm", True),  # video generator guides: 0.5 % about 59.94 to 60 Hz
        ("clock-wobble", None, 0.15, "pixel", False),  # VESA Video Signal Standard 7.5, from memory
        ("full-scale", 0.5, 1.0, "V", True),  # front end datasheet AD9883A
    ],
)
def test_limits(name: str, low: float | None, high: float | None, unit: str, fact: bool) -> None:
    row = limit(name)
    assert (row.low, row.high, row.unit) == (low, high, unit)
    assert source(row.source).is_fact == fact


def test_every_limit_is_in_order_and_sourced() -> None:
    for name in limit_names():
        row = limit(name)
        bounds = [x for x in (row.low, row.typical, row.high) if x is not None]
        assert bounds
        assert bounds == sorted(bounds)
        (fact,) = known_limit(name).facts
        assert fact.source == row.source


def test_known_limit_words() -> None:
    assert known_limit("white").facts[0].text == "0.665 .. 0.7 .. 0.77 V"
    assert known_limit("clock-error").facts[0].text == "5000 ppm"


def test_mini_coax_as_its_catalogue_page_prints_it() -> None:
    # 1.2 dB per 100 ft at 10 MHz, 82 %, 20.1 and 3.7 ohm per 1000 ft; a foot is 0.3048 m
    mini = cable("mini 23 awg")
    assert mini.attenuation_db_per_m * 30.48 == pytest.approx(1.2, abs=0.005)
    assert mini.velocity_factor == 0.82
    assert mini.conductor_ohm_per_m is not None
    assert mini.shield_ohm_per_m is not None
    assert mini.conductor_ohm_per_m * 304.8 == pytest.approx(20.1, abs=0.05)
    assert mini.shield_ohm_per_m * 304.8 == pytest.approx(3.7, abs=0.05)


def test_other_cables_give_no_resistance_they_have_no_sheet_for() -> None:
    assert cable_kinds() == ("rg59", "mini 23 awg", "thin", "32 awg")
    for kind in ("rg59", "thin", "32 awg"):
        row = cable(kind)
        assert row.conductor_ohm_per_m is None
        assert row.shield_ohm_per_m is None
        assert not source(row.source).is_fact
    assert [cable(kind).attenuation_db_per_m * 100 for kind in ("rg59", "thin", "32 awg")] == [4.0, 6.5, 9.0]


@pytest.mark.parametrize(("kind", "diameter_mm"), [("thin", 0.30), ("32 awg", 0.202)])
def test_loss_of_thin_cables_is_that_of_their_copper(kind: str, diameter_mm: float) -> None:
    # skin resistance of copper 2.61e-7 ohm * sqrt(f); 75 ohm in solid polyethylene: shield 6.5 conductors wide
    skin_ohm = 2.61e-7 * 10e6**0.5
    ohm_per_m = skin_ohm / (3.14159 * diameter_mm * 1e-3) * (1 + 1 / 6.5)
    db_per_100_m = 8.686 * ohm_per_m / (2 * 75.0) * 100
    assert cable(kind).attenuation_db_per_m * 100 == pytest.approx(db_per_100_m, rel=0.15)
    assert cable(kind).attenuation_db_per_m * 100 > db_per_100_m  # rounded up, never down


def test_lvc_outputs() -> None:
    # 74LVC245A: VCC - 0.8 V and 0.55 V at 24 mA; HD74LVC24xA: 50 mA an output, 100 mA a supply pin
    lvc = buffer("LVC")
    assert lvc.most_high.high == pytest.approx(0.8 / 0.024, abs=0.05)
    assert lvc.most_low.high == pytest.approx(0.55 / 0.024, abs=0.05)
    assert (lvc.output_current.typical, lvc.output_current.high, lvc.package_current.high) == (0.024, 0.050, 0.100)
    assert lvc.resistance.typical == 12.0
    assert not source(lvc.resistance.source).is_fact


def test_other_families() -> None:
    # 74AHC245 table 4; 74HC245 tables 5 and 7
    ahc, hc = buffer("AHC"), buffer("HC")
    assert (ahc.output_current.high, ahc.package_current.high, ahc.resistance.typical) == (0.025, 0.075, 35.0)
    assert (hc.output_current.high, hc.package_current.high, hc.resistance.typical) == (0.035, 0.070, 45.0)
    assert hc.most_high.high == pytest.approx((4.5 - 3.84) / 0.006)
    assert hc.most_low.high == pytest.approx(0.33 / 0.006)
    assert [buffer(f).rail_v for f in buffer_families()] == [3.3, 3.3, 5.0]


def test_no_family_is_typically_worse_than_it_is_guaranteed() -> None:
    for family in buffer_families():
        row = buffer(family)
        for most in (row.most_high, row.most_low):
            assert row.resistance.typical is not None
            assert most.high is not None
            assert row.resistance.typical < most.high


def test_unknown_names_say_what_there_is() -> None:
    with pytest.raises(ValueError, match=r"signal_levels 'whit': no such row; white, .*did you mean white"):
        limit("whit")
    with pytest.raises(ValueError, match="cables 'thick': no such row; rg59, mini 23 awg, thin, 32 awg are allowed"):
        cable("thick")
    with pytest.raises(ValueError, match="buffers 'LVT': no such row; LVC, AHC, HC are allowed; did you mean LVC"):
        buffer("LVT")
