"""Values as parts lists write them: 4K7, 5k1, 470R, 0.1u, X7R 100nF 16V, 240 1 %."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Literal

from scanloom.basis.record import record

_SCALE = {
    "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "": 1.0, "R": 1.0, "r": 1.0, "E": 1.0,
    "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9,
}  # fmt: skip
_OHM = r"(?:ohms?|Ohms?|OHMS?|Ω|Ω)"
_INFIX = re.compile(rf"(\d{{1,6}})([RrEkKMGpnuµμ])(\d{{1,4}})\s*({_OHM}|F|H)?(?![\w.])")
_PLAIN = re.compile(rf"(\d+(?:[.,]\d+)?)\s*([pnuµμmkKMGRrE]?)\s*({_OHM}|[FH])?(?![\w.]|,\d)")
_PACKAGES = re.compile(r"(?<![\w.])(?:01005|0201|0402|0603|0805|1206|1210|2010|2512)(?![\w.])")
_BELOW_ONE = re.compile(r"\s*[Rr](\d{3,4})\s*")  # R010: the letter stands for the point
_TIMES = re.compile(r"(?<![\w.])\d{1,2}\s*[xX×*]\s*(?=\d)")  # 4x10k: four in one package
_PERCENT = re.compile(r"[±]?\s*(\d+(?:[.,]\d+)?)\s*%")


@record
class PartValue:
    """A value of a part.

    Parameters
    ----------
    amount : float
        The value. [unit]
    unit_name : {"ohm", "F", "H"}
        What it is.
    tolerance_percent : float or None
        Tolerance, where it is written. [%]
    """

    amount: float
    unit_name: Literal["ohm", "F", "H"]
    tolerance_percent: float | None = None


@lru_cache(maxsize=4096)
def part_value(text: str, part: str = "") -> PartValue | None:
    """Value of a part from its text.

    Parameters
    ----------
    text : str
        As a parts list writes it.
    part : str
        Designator, which says what a bare number is: R ohms, C farads, L henries.

    Returns
    -------
    PartValue or None
        None when the text holds no value.

    References
    ----------
    [iec60062] IEC 60062, letter and digit code for resistance and capacitance values.
    """
    if len(text) > 200:
        return None
    percent = _PERCENT.search(text)
    rest = _PERCENT.sub(" ", text)
    kind = {"R": "ohm", "C": "F", "L": "H", "F": "H"}.get(part[:1].upper(), "")
    bare = _PACKAGES.sub(" ", _TIMES.sub(" ", rest.replace("_", " ")))
    below = _BELOW_ONE.fullmatch(bare)
    if below and kind == "ohm" and not _PACKAGES.fullmatch(below[1]):
        return PartValue(float(f"0.{below[1]}"), "ohm")
    plain = sorted(_PLAIN.finditer(bare), key=lambda one: not (one[2] or one[3]))  # a letter or a unit tells more
    for found in (*_INFIX.finditer(bare), *plain):
        groups = found.groups()
        if found.start() and (bare[found.start() - 1].isalnum() or bare[found.start() - 1] in ".,-_"):
            continue
        if len(groups) == 4:
            digits, letter, unit = f"{groups[0]}.{groups[2]}", groups[1], groups[3] or ""
        else:
            digits, letter, unit = groups[0].replace(",", "."), groups[1], groups[2] or ""
        named = "ohm" if unit and unit not in "FH" else unit or ("ohm" if letter in ("R", "r") else kind)
        if not named and letter in ("k", "K", "M"):
            named = "ohm"
        if not named or (named == "ohm" and letter in ("p", "n", "u", "µ", "μ")):
            continue
        amount = float(digits) * _SCALE[letter]
        if not math.isfinite(amount) or amount > 1e12:
            continue
        if named == "F" and letter == "" and not unit:
            continue
        stated = float(percent[1].replace(",", ".")) if percent else None
        return PartValue(amount, named, stated if stated is not None and stated < 100 else None)  # type: ignore[arg-type]
    return None
