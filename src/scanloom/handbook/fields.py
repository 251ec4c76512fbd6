"""Fields of handbook tables: quantities as text in TOML, plain numbers inside."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from scanloom.basis import units
from scanloom.basis.span import Span


def _text(raw: Any, unit: str) -> str:
    """The text of a quantity, or a complaint about anything else."""
    if not isinstance(raw, str):
        raise ValueError(f"{raw!r} is not text; a quantity in quotes is allowed; write it as '{units.example(unit)}'")
    return raw


def _one(unit: str) -> BeforeValidator:
    """Validator of one exact quantity."""

    def check(raw: Any) -> Any:
        return raw if isinstance(raw, Decimal) else units.read(_text(raw, unit), unit)

    return BeforeValidator(check)


def _span(unit: str) -> BeforeValidator:
    """Validator of a quantity with bounds."""

    def check(raw: Any) -> Any:
        return raw if isinstance(raw, Span) else units.read_span(_text(raw, unit), unit).span()

    return BeforeValidator(check)


def _whole_list(unit: str) -> BeforeValidator:
    """Validator of a list of whole numbers with one unit at its end."""

    def check(raw: Any) -> Any:
        if isinstance(raw, tuple):
            return raw
        spans = units.read_spans(_text(raw, unit), unit)
        if any(s.low != s.high or s.low != s.low.to_integral_value() for s in spans):
            raise ValueError(f"{raw!r}: whole numbers of {unit} are allowed; write '113800, 14000 {unit}'")
        return tuple(int(s.low) for s in spans)

    return BeforeValidator(check)


def _schema(unit: str) -> WithJsonSchema:
    """Schema of a quantity as written in the file."""
    return WithJsonSchema({"type": "string", "description": f"quantity in {unit}", "examples": [units.example(unit)]})


Hertz = Annotated[Decimal, _one("Hz"), _schema("Hz")]
Amperes = Annotated[Decimal, _one("A"), _schema("A")]
Volts = Annotated[Decimal, _one("V"), _schema("V")]
OhmSpan = Annotated[Span, _span("ohm"), _schema("ohm")]
AmpereSpan = Annotated[Span, _span("A"), _schema("A")]
VoltSpan = Annotated[Span, _span("V"), _schema("V")]
HertzSpan = Annotated[Span, _span("Hz"), _schema("Hz")]
ByteBlocks = Annotated[tuple[int, ...], _whole_list("B"), _schema("B")]
