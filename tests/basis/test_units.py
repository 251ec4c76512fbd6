"""Quantities as text: read exactly or refused with the accepted form."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanloom.basis.typed_amounts import read_money, read_part
from scanloom.basis.units import QuantityError, read, read_span, read_spans


@pytest.mark.parametrize(("text", "unit", "value"), [
    ("25.175 MHz", "Hz", "25175000"), ("25.175MHz", "Hz", "25175000"), ("31.7775 us", "s", "0.0000317775"), ("31.7775 µs", "s", "0.0000317775"),
    ("10 m", "m", "10"), ("10 mm", "m", "0.010"), ("20 mA", "A", "0.020"), ("24000 B", "B", "24000"), ("16 KiB", "B", "16384"),
    ("75 Ω", "ohm", "75"), ("2.2 kohm", "ohm", "2200"), ("-5 degC", "degC", "-5"), ("1e3 Hz", "Hz", "1000"), ("110 K/W", "K/W", "110"),
    # IEC 60062, letter code for resistance values: the letter stands for the point
    ("4k7", "ohm", "4700"), ("4K7", "ohm", "4700"), ("5R1", "ohm", "5.1"), ("470R", "ohm", "470"), ("2M2", "ohm", "2200000"), ("5k1", "ohm", "5100"),
])  # fmt: skip
def test_read_exactly(text: str, unit: str, value: str) -> None:
    assert read(text, unit) == Decimal(value)


@pytest.mark.parametrize(("text", "unit", "says"), [
    ("3,3 V", "V", "comma inside a number"), ("270", "ohm", "has no unit"), ("3.3 A", "V", "is in A"), ("25.175 mhz", "Hz", "'mhz' is not known"),
    ("nan V", "V", "not a finite number"), ("inf V", "V", "not a finite number"), ("1e400 V", "V", "absurd size"), ("1e-40 V", "V", "absurd size"),
    ("56O ohm", "ohm", "not known"), ("", "V", "not a number"), ("ohm", "ohm", "not a number"), ("4k7", "V", "not known"), ("1 2 V", "V", "not known"),
    ("1" * 30 + " V", "V", "absurd size"),
])  # fmt: skip
def test_refused_with_the_accepted_form(text: str, unit: str, says: str) -> None:
    with pytest.raises(QuantityError, match=says.replace("(", r"\(")) as caught:
        read(text, unit)
    assert "write" in str(caught.value)


@pytest.mark.parametrize(("text", "bounds"), [
    ("20 .. 40 ohm", (20, 30, 40)), ("20..40 ohm", (20, 30, 40)), ("20 .. 28 .. 40 ohm", (20, 28, 40)), ("75 ohm", (75, 75, 75)),
    ("75 ohm ± 2 %", ("73.5", 75, "76.5")), ("75 ohm +- 2 %", ("73.5", 75, "76.5")), ("75 ohm ± 1.5 ohm", ("73.5", 75, "76.5")),
    ("1 .. 2.2 .. 4.7 kohm", (1000, 2200, 4700)), ("900 ohm .. 1.1 kohm", (900, 1000, 1100)), ("20 .. 40 ohm ± 10 %", (18, 30, 44)),
])  # fmt: skip
def test_spans(text: str, bounds: tuple[object, ...]) -> None:
    span = read_span(text, "ohm")
    assert (span.low, span.typical, span.high) == tuple(Decimal(str(b)) for b in bounds)


@pytest.mark.parametrize(
    "text",
    [
        "40 .. 20 ohm",
        "1 .. 2 .. 3 .. 4 ohm",
        "75 ohm ± 120 %",
        "75 ohm ± 2",
        "75 ohm ± -1 %",
        "75 ohm ± 1 % ± 2 %",
        "20, 40 ohm",
    ],
)
def test_spans_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        read_span(text, "ohm")


def test_lists_carry_the_unit_and_the_tolerance_on_their_last_item() -> None:
    spans = read_spans("510, 1000, 2000 ohm ± 1 %", "ohm")
    assert [s.typical for s in spans] == [510, 1000, 2000]
    assert spans[0].low == Decimal("504.9")
    assert [s.typical for s in read_spans("113800, 110500 B", "B")] == [113800, 110500]
    assert [s.typical for s in read_spans("4k7, 1000 ohm", "ohm")] == [4700, 1000]


@pytest.mark.parametrize(
    ("text", "ohm"),
    [("510", 510), ("1k", 1000), ("3.9k", 3900), ("3k9", 3900), ("470R", 470), ("240 ohm", 240), ("2.2M", 2_200_000)],
)
def test_parts_of_a_command_line(text: str, ohm: int) -> None:
    assert read_part(text) == ohm


@pytest.mark.parametrize("text", ["0", "-5", "0R", "x", "", "5 V"])
def test_parts_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        read_part(text)


def test_money_takes_any_currency_word() -> None:
    span, word = read_money("6 .. 14 crowns")
    assert (span.low, span.typical, span.high, word) == (6, 10, 14, "crowns")
    for text in ("crowns", "6", "6 .. crowns"):
        with pytest.raises(QuantityError):
            read_money(text)


@given(st.decimals(min_value="0.001", max_value="99999", places=3), st.sampled_from(("", "k", "M")))
def test_a_written_number_is_read_back_exactly(number: Decimal, prefix: str) -> None:
    factor = {"": 1, "k": 1000, "M": 1_000_000}[prefix]
    assert read(f"{number} {prefix}ohm", "ohm") == number * factor
    tolerance = read_span(f"{number} {prefix}ohm ± 5 %", "ohm")
    assert (tolerance.low, tolerance.high) == (number * factor * Decimal("0.95"), number * factor * Decimal("1.05"))


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    for reader in (
        lambda: read(text, "V"),
        lambda: read_spans(text, "Hz"),
        lambda: read_part(text),
        lambda: read_money(text),
    ):
        try:
            reader()  # type: ignore[no-untyped-call]
        except QuantityError:
            pass
