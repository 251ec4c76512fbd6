"""Units a quantity may carry, and an accepted text of each."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

_PREFIXES = {"p": -12, "n": -9, "u": -6, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}


def _scaled(symbols: tuple[str, ...], prefixes: str) -> dict[str, Decimal]:
    """Symbols with the metric prefixes that make sense for them."""
    wanted = ["", *prefixes]
    return {p + s: Decimal(1).scaleb(_PREFIXES[p]) for s in symbols for p in wanted}


UNITS: Mapping[str, Mapping[str, Decimal]] = MappingProxyType(
    {
        "Hz": _scaled(("Hz",), "kMG"),
        "ohm": _scaled(("ohm", "Ω", "Ohm"), "mkM"),
        "V": _scaled(("V",), "umk"),
        "A": _scaled(("A",), "numµ"),
        "s": _scaled(("s",), "numµ"),
        "W": _scaled(("W",), "um"),
        "F": _scaled(("F",), "pnuµ"),
        "H": _scaled(("H",), "pnuµm"),
        "V/s": {"V/s": Decimal(1), "V/us": Decimal(10) ** 6, "V/µs": Decimal(10) ** 6},
        "B": {
            "B": Decimal(1),
            "kB": Decimal(1000),
            "MB": Decimal(10) ** 6,
            "KiB": Decimal(1024),
            "MiB": Decimal(1024) ** 2,
        },
        "m": {"mm": Decimal("0.001"), "cm": Decimal("0.01"), "m": Decimal(1), "km": Decimal(1000)},
        "%": {"%": Decimal(1)},
        "ppm": {"ppm": Decimal(1)},
        "K/W": {"K/W": Decimal(1), "degC/W": Decimal(1)},
        "degC": {"degC": Decimal(1), "°C": Decimal(1)},
        "dB": {"dB": Decimal(1)},
    }
)
EXAMPLES = MappingProxyType(
    {
        "Hz": "25.175 MHz",
        "ohm": "240 ohm",
        "V": "3.3 V",
        "A": "20 mA",
        "s": "2.5 ms",
        "W": "62.5 mW",
        "F": "5 pF",
        "H": "1 nH",
        "V/s": "500 V/us",
        "B": "24000 B",
        "m": "10 m",
        "%": "1 %",
        "ppm": "100 ppm",
        "K/W": "110 K/W",
        "degC": "35 degC",
        "dB": "4 dB",
    }
)
