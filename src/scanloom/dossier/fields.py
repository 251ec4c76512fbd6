"""The kinds of values a dossier holds, each with its reader and schema."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from scanloom.basis import units
from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.typed_amounts import read_money
from scanloom.dossier.leaf import Written

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_SIZE = re.compile(r"(\d{1,5})\s*x\s*(\d{1,5})")


@record
class Pull:
    """A pull to a fixed voltage inside a display.

    Parameters
    ----------
    part_ohm : Span
        Resistance of the pull. [ohm]
    to_v : Span
        Voltage it pulls to. [V]
    """

    part_ohm: Span
    to_v: Span


@record
class CableRun:
    """A cable between board and display.

    Parameters
    ----------
    kind : str
        Kind in the handbook's table of cables.
    length_m : Span
        Length. [m]
    """

    kind: str
    length_m: Span


@record
class Money:
    """An amount in the maker's currency.

    Parameters
    ----------
    amount : Span
        The amount. [currency]
    currency : str
        Word for the currency.
    """

    amount: Span
    currency: str


def _positive(span: units.ExactSpan, text: str, what: str) -> units.ExactSpan:
    """Refuse zero and less."""
    if span.low <= 0:
        raise ValueError(
            f"{text!r} is not larger than zero; {what} larger than zero is allowed; check the sign and the tolerance"
        )
    return span


def _spans(unit: str, positive: bool) -> Any:
    """Reader of a list of spans."""

    def read(text: str) -> tuple[Span, ...]:
        found = units.read_spans(text, unit)
        return tuple((_positive(s, text, f"a value in {unit}") if positive else s).span() for s in found)

    return read


def _span(unit: str, positive: bool) -> Any:
    """Reader of one span."""

    def read(text: str) -> Span:
        found = units.read_span(text, unit)
        return (_positive(found, text, f"a value in {unit}") if positive else found).span()

    return read


def _exact(unit: str) -> Any:
    """Reader of one exact positive number."""

    def read(text: str) -> Decimal:
        value = units.read(text, unit)
        if value <= 0:
            raise ValueError(
                f"{text!r} is not larger than zero; a value in {unit} larger than zero is allowed; check the sign"
            )
        return value

    return read


def _whole_bytes(text: str) -> int:
    """Whole bytes, none included."""
    value = units.read(text, "B")
    if value < 0 or value != value.to_integral_value():
        raise ValueError(f"{text!r} is not a whole number of bytes; whole bytes are allowed; write it as '24000 B'")
    return int(value)


def _blocks(text: str) -> tuple[int, ...]:
    """Free blocks in whole bytes."""
    found = units.read_spans(text, "B")
    if len(found) > 32:
        raise ValueError(f"{len(found)} blocks are listed; up to 32 are allowed; leave the smallest out")
    if any(s.low != s.high or s.low < 0 or s.low != s.low.to_integral_value() for s in found):
        raise ValueError(f"{text!r}: a list of whole byte counts is allowed; write it as '113800, 14000 B'")
    return tuple(int(s.low) for s in found)


def _size(text: str) -> tuple[int, int]:
    """Width by height."""
    match = _SIZE.fullmatch(text.strip())
    if not match or 0 in (int(match[1]), int(match[2])):
        raise ValueError(
            f"{text!r} is not a size; width x height in whole pixels and rows is allowed; write it as '320x240'"
        )
    return int(match[1]), int(match[2])


def _pull(text: str) -> Pull | None:
    """Resistance and the voltage it pulls to, or none at all."""
    if text == "none":
        return None
    part, mark, volts = text.partition(" to ")
    if not mark:
        raise ValueError(
            f"{text!r} is not a pull; a resistance and a voltage are allowed; write it as '2.2 kohm to 5 V'"
        )
    return Pull(_span("ohm", True)(part), _span("V", True)(volts))


def _cable(text: str) -> CableRun:
    """Kind and length of a cable."""
    kind, mark, length = text.rpartition(",")
    if not mark or not kind.strip():
        raise ValueError(f"{text!r} is not a cable run; a kind and a length are allowed; write it as 'thin, 10 m'")
    return CableRun(kind.strip(), _span("m", True)(length.strip()))


def _point(text: str) -> tuple[Span, ...]:
    """Three coordinates."""
    found = _spans("m", False)(text)
    if len(found) != 3:
        raise ValueError(f"{text!r} has {len(found)} coordinates; three are allowed; write it as '-0.6, 0.0, 1.2 m'")
    return tuple(found)


def _money(text: str) -> Money:
    """Amount and currency."""
    span, word = read_money(text)
    return Money(span.span(), word)


def _words(text: str) -> str:
    """Text that is not empty."""
    if not text:
        raise ValueError("the text is empty; a word or a name is allowed; fill it in or delete the line")
    return text


def _count(least: int, most: int) -> Any:
    """Reader of a whole number within bounds."""

    def read(raw: int) -> int:
        if not least <= raw <= most:
            raise ValueError(f"{raw} is outside; {least} to {most} is allowed; change the number")
        return raw

    return read


def _pins(raw: Any) -> tuple[int, ...]:
    """One pin or a list of pins, most significant first."""
    listed = raw if isinstance(raw, list) else [raw]
    if not listed or any(isinstance(p, bool) or not isinstance(p, int) or not 0 <= p <= 255 for p in listed):
        raise ValueError(
            f"{raw} is not a pin or a list of pins; whole pin numbers are allowed; write [5, 4, 3], most significant first"
        )
    if len(listed) > 8:
        raise ValueError(
            f"{len(listed)} pins are listed for one channel; up to 8 are allowed; leave the least significant out"
        )
    return tuple(listed)


def _order(raw: Any) -> tuple[int, ...]:
    """A list of pins, each once."""
    if any(isinstance(p, bool) or not isinstance(p, int) for p in raw) or len(set(raw)) != len(raw):
        raise ValueError(f"{raw} is not a walking order; whole pin numbers, each once, are allowed; write [0, 1, 2]")
    return tuple(raw)


def _lane_names(raw: Any) -> tuple[str, ...]:
    """Names of lanes from bit 0 upward."""
    if not raw or any(not isinstance(n, str) for n in raw):
        raise ValueError(
            f'{raw} is not a list of lane names; write ["hero-left.red", "h", "v"] from bit 0 upward, "spare" for none'
        )
    return tuple(raw)


def _any_date(raw: Any) -> date:
    """A calendar date."""
    if not isinstance(raw, date):
        raise ValueError(f"{raw!r} is not a date; a TOML date is allowed; write it as 2031-03-14 without quotes")
    return raw


def quantity(unit: str, words: str, example: str, *, positive: bool = True, many: bool = False) -> Written:
    """Marker of a quantity field.

    Parameters
    ----------
    unit : str
        Base unit.
    words : str
        What the field takes, for messages and the schema.
    example : str
        Accepted text.
    positive : bool
        Whether zero and less are refused.
    many : bool
        Whether several values may be listed, the last with the unit.

    Returns
    -------
    Written
        The marker.
    """
    reader = _spans(unit, positive) if many else _span(unit, positive)
    return Written(reader, _schema(words, example))


def _schema(words: str, example: Any, kind: str = "string") -> dict[str, Any]:
    """JSON Schema of a value as written."""
    return {"type": kind, "description": words, "examples": [example]}


OhmSpan = Annotated[Known[Span], quantity("ohm", "a resistance", "20 .. 40 ohm; measured")]
OhmSpans = Annotated[
    Known[tuple[Span, ...]], quantity("ohm", "one or more resistances", "510, 1000 ohm ± 1 %", many=True)
]
VoltSpan = Annotated[Known[Span], quantity("V", "a voltage", "3.25 .. 3.35 V; measured")]
AmpereSpan = Annotated[Known[Span], quantity("A", "a current", "500 mA; sheet")]
HertzSpan = Annotated[Known[Span], quantity("Hz", "a range of rates", "30 .. 60 kHz; sheet")]
FaradSpan = Annotated[Known[Span], quantity("F", "a capacitance", "5 pF; sheet")]
FaradSpans = Annotated[
    Known[tuple[Span, ...]], quantity("F", "one or more capacitances", "100, 100, 100, 10000 nF", many=True)
]
HenrySpan = Annotated[Known[Span], quantity("H", "an inductance", "1 nH; guess")]
SlewSpan = Annotated[Known[Span], quantity("V/s", "a steepness", "500 V/us; sheet")]
RiseSpan = Annotated[Known[Span], quantity("K/W", "a thermal resistance", "110 K/W; sheet")]
AirSpan = Annotated[Known[Span], quantity("degC", "a temperature", "35 degC; guess", positive=False)]
SecondSpan = Annotated[Known[Span], quantity("s", "a time", "2.5 ms; measured")]
RateSpan = Annotated[Known[Span], quantity("Hz", "a rate", "2 Hz; because", positive=False)]
Amperes = Annotated[Known[Decimal], Written(_exact("A"), _schema("a current", "20 mA"))]
Hertz = Annotated[Known[Decimal], Written(_exact("Hz"), _schema("a rate", "25.175 MHz"))]
Bytes = Annotated[Known[int], Written(_whole_bytes, _schema("a number of bytes", "24000 B; because"))]
Blocks = Annotated[
    Known[tuple[int, ...]], Written(_blocks, _schema("free blocks in bytes", "113800, 14000 B; measured"))
]
Size = Annotated[Known[tuple[int, int]], Written(_size, _schema("a size in pixels and rows", "320x240"))]
PullTo = Annotated[
    Known[Pull | None], Written(_pull, _schema("a pull to a voltage, or none", "2.2 kohm to 5 V; sheet"))
]
Cable = Annotated[Known[CableRun], Written(_cable, _schema("a kind of cable and its length", "thin, 10 m; measured"))]
Point = Annotated[Known[tuple[Span, ...]], Written(_point, _schema("three coordinates", "-0.6, 0.0, 1.2 m; measured"))]
Price = Annotated[Known[Money], Written(_money, _schema("an amount of money", "8.00 crowns; said"))]
Words = Annotated[Known[str], Written(_words, _schema("text", "monitor, 15 inch"))]
WordList = Annotated[tuple[Known[str], ...], Written(_words, _schema("text", "640x480@60; measured"), many=True)]
Count = Annotated[Known[int], Written(_count(1, 64), _schema("a whole number", 2, "integer"), (int,))]
Depth = Annotated[Known[int], Written(_count(1, 8), _schema("bits", 1, "integer"), (int,))]
Amount = Annotated[Known[int], Written(_count(0, 100_000), _schema("a whole number", 2, "integer"), (int,))]
Pin = Annotated[Known[int], Written(_count(0, 255), _schema("a pin number", 26, "integer"), (int,))]
_PIN_SCHEMA = {
    "description": "a pin, or a list of pins, most significant first",
    "examples": [32],
    "anyOf": [{"type": "integer"}, {"type": "array", "items": {"type": "integer"}}],
}
Pins = Annotated[Known[tuple[int, ...]], Written(_pins, _PIN_SCHEMA, (int, list))]
_ORDER_SCHEMA = {
    "type": "array",
    "items": {"type": "integer"},
    "description": "a list of pins",
    "examples": [[0, 1, 2]],
}
PinOrder = Annotated[Known[tuple[int, ...]], Written(_order, _ORDER_SCHEMA, (list,))]
_LANE_SCHEMA = {
    "type": "array",
    "items": {"type": "string"},
    "description": "a list of lane names",
    "examples": [["h", "v"]],
}
LaneNames = Annotated[Known[tuple[str, ...]], Written(_lane_names, _LANE_SCHEMA, (list,))]
Day = Annotated[
    Known[date], Written(_any_date, {"description": "a date", "examples": ["2031-03-14"], "format": "date"}, (date,))
]
