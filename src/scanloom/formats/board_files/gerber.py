"""Gerber images (X1 to X3) read into a layer.

Own reader: in trial the library at hand passed over mirrored and turned apertures (LM, LR, LS), blocks (AB) and step and
repeat, took polygon rotation for radians and lost the nets of areas. It is the oracle for all the rest in the tests.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping

from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.gerber_aperture import Aperture, macro_aperture, standard_aperture
from scanloom.formats.board_files.gerber_pen import Pen, Picture
from scanloom.stages.board.model import NO_END

_WORD = re.compile(r"([GDMXYIJ])([+-]?[\d.]+)")
_COMMENTED = re.compile(r"(?m)(?:^|(?<=[*%]))G0?4\s*#@!\s*(T[FAOD][^*]{0,2000})\*")
_DEFINED = re.compile(r"ADD(\d+)([A-Za-z_.$][\w.$+\-]*)(?:,(.*))?$")
_FORMAT = re.compile(r"FS([LTD]?)([AI])(?:[NG]\d+)*X(\d)(\d)Y(\d)(\d)")
_REPEAT = re.compile(r"SRX(\d+)Y(\d+)I([+-]?[\d.]+)J([+-]?[\d.]+)$")
_ESCAPED = re.compile(r"\\u([0-9A-Fa-f]{4})")
_MOST_REPEATS = 10_000
_MOST_MACRO_WORK = 30_000
_OLD = {
    "MI": re.compile(r"MI(?:A0)?(?:B0)?"),
    "IR": re.compile(r"IR0*"),
    "SF": re.compile(r"SF(?:A1(?:\.0*)?)?(?:B1(?:\.0*)?)?"),
    "AS": re.compile(r"AS(?:AXBY)?"),
    "IP": re.compile(r"IP(?:POS|NEG)"),
}
"""Deprecated commands, in the forms that change nothing; a negative image is turned by who knows the layer."""


def read_gerber(text: str) -> Picture:
    """Objects of a Gerber file.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    Picture
        What it draws, what it says of itself, and what had to be passed over.

    Raises
    ------
    Damaged
        If it is no Gerber file, or draws more than any board needs.

    References
    ----------
    [gerber] Gerber Layer Format Specification, revisions I1 to 2024.05.
    """
    reader = _Reader()
    # attributes in comments are the form that older plotters pass over
    for block, is_extended in _blocks(_COMMENTED.sub(r"%\1*%", text)):
        if is_extended:
            reader.extended(block)
        elif not reader.ended:
            reader.plain(block)
    return reader.finish(broken_off=not text.rstrip().endswith(("*", "%")))


def _blocks(text: str) -> Iterator[tuple[str, bool]]:
    """Blocks and whether each stands between percent signs; one walk through the text, whatever it holds."""
    at = 0
    percent = text.find("%")
    while at < len(text):
        if at == percent:
            end = text.find("%", at + 1)
            if end < 0:
                return
            yield text[at + 1 : end], True
            at = end + 1
            percent = text.find("%", at)
            continue
        star = text.find("*", at) if percent < 0 else text.find("*", at, percent)
        if star >= 0:
            yield text[at:star], False
            at = star + 1
        elif percent < 0:
            return
        else:
            at = percent


class _Reader:
    """State of a plotter that walks through the file."""

    def __init__(self) -> None:
        """As every file begins."""
        self.pen = Pen()
        self.ended = False
        self.negative = False
        self._scale = 0.0
        self._digits: tuple[int, int] | None = None
        self._trailing = False
        self._step = False
        self._apertures: dict[int, Aperture] = {}
        self._macros: dict[str, str] = {}
        self._purpose = ""
        self._seen = 0
        self._worked = 0
        self._remarks: dict[str, None] = {}

    def extended(self, body: str) -> None:
        """What stands between percent signs."""
        body = body.strip()
        if body.startswith("AM"):
            name, _, rest = body[2:].replace("\n", "").partition("*")
            self._macros[name.strip()] = rest
            return
        for part in body.split("*"):
            word = part.replace("\n", "").strip()
            if word:
                self._seen += 1
                self._command(word)

    def _command(self, word: str) -> None:
        """One extended command."""
        key = word[:2]
        if key == "FS":
            self._format(word)
        elif key == "MO":
            self._scale = 25.4 if word[2:4] == "IN" else 1.0
        elif key == "AD":
            self._define(word)
        elif key in ("TF", "TA", "TO", "TD"):
            self._attribute(key, word[2:])
        elif key == "LP":
            self.pen.dark = word[2:3] != "C"
        elif key == "LM":
            self.pen.mirror = ("X" in word[2:], "Y" in word[2:])
        elif key in ("LR", "LS"):
            value = _number(word[2:])
            if key == "LR":
                self.pen.turn_deg = value
            else:
                self.pen.grow = value
        elif key == "AB":
            self._block(word[2:])
        elif key == "SR":
            self._repeat(word)
        elif key in _OLD:
            if not _OLD[key].fullmatch(word):
                raise Damaged(f"{word!r}, long deprecated and read in many ways; none is allowed; export without it")
            self.negative = self.negative or word == "IPNEG"
        elif key == "OF" and any(float(n) for n in re.findall(r"[+-]?[\d.]*\d", word)):
            raise Damaged(f"{word!r}, a deprecated offset; none is allowed; export without it")
        elif key == "IF":
            raise Damaged("it includes another file; one whole file is wanted; export it again")
        elif key not in ("OF", "IN", "LN"):
            self._remarks[f"passed over {word[:20]!r}"] = None

    def _format(self, word: str) -> None:
        """Digits of coordinates."""
        found = _FORMAT.match(word)
        if not found:
            raise Damaged(f"format {word[:30]!r}; FSLAX46Y46 or alike is allowed; export the file again")
        self._trailing, self._step = found[1] == "T", found[2] == "I"
        if found[3] + found[4] != found[5] + found[6]:
            raise Damaged(f"format {word[:30]!r} differs for X and Y; one for both is allowed; export again")
        self._digits = int(found[3]), int(found[4])

    def _define(self, word: str) -> None:
        """An aperture; without a name of its own it is a macro."""
        found = _DEFINED.match(word)
        if not found:
            raise Damaged(f"aperture {word[:30]!r}; ADD10C,0.5 or alike is allowed; export the file again")
        numbers = [_number(n) for n in (found[3] or "").split("X") if n.strip()]
        scale = self._unit()
        if found[2] in ("C", "R", "O", "P"):
            made = standard_aperture(found[2], numbers, scale, self._purpose)
        elif found[2] in self._macros:
            self._worked += self._macros[found[2]].count("*") + 1
            if self._worked > _MOST_MACRO_WORK:
                raise Damaged(f"macros of more than {_MOST_MACRO_WORK} statements in all; simplify the pads")
            made = macro_aperture(self._macros[found[2]], numbers, scale, self._purpose)
        else:
            raise Damaged(
                f"aperture shape {found[2]!r} is defined nowhere; a macro of that name is wanted; export again"
            )
        if made.shape.is_empty:
            self._remarks[f"aperture D{found[1]} has no area"] = None
        self._apertures[int(found[1])] = made

    def _attribute(self, key: str, body: str) -> None:
        """What the file says of itself, of apertures, of objects."""
        name, _, value = _ESCAPED.sub(_unescaped, body).partition(",")
        if key == "TF":
            self.pen.attributes.setdefault(name, value)
        elif key == "TA":
            self._purpose = value if name == ".AperFunction" else self._purpose
        elif key == "TO":
            self.pen.says[name] = value
        elif not name:
            self.pen.says.clear()
            self._purpose = ""
        elif name == ".AperFunction":
            self._purpose = ""
        else:
            self.pen.says.pop(name, None)

    def _block(self, number: str) -> None:
        """Start or end of a block that is flashed as an aperture."""
        if number:
            self.pen.open_block(_whole(number.removeprefix("D")))
        else:
            self.pen.close_block()

    def _repeat(self, word: str) -> None:
        """Start or end of objects drawn several times."""
        found = _REPEAT.match(word)
        if not found:
            self.pen.close_repeat()
            return
        across, up = int(found[1]), int(found[2])
        if not 1 <= across * up <= _MOST_REPEATS:
            raise Damaged(f"{across} x {up} repeats; at most {_MOST_REPEATS} are read; export one board alone")
        scale = self._unit()
        self.pen.open_repeat(
            [(i * _number(found[3]) * scale, j * _number(found[4]) * scale) for i in range(across) for j in range(up)]
        )

    def plain(self, block: str) -> None:
        """A block of words: coordinates and codes."""
        block = block.strip()
        if not block or block.startswith(("G04", "G4 ")):
            return
        values: dict[str, float] = {}
        act = 0
        for letter, number in _WORD.findall(block):
            if letter in "XYIJ":
                values[letter] = self._coordinate(number)
            elif letter == "D":
                act = self._select(_whole(number))
            elif letter == "G":
                self._mode(_whole(number))
            elif _whole(number) in (0, 2):
                self.ended = True
        if values and not act:
            act = self.pen.last_act
        if act and not self.ended:
            self._seen += 1
            if self._step:
                for letter in values.keys() & {"X", "Y"}:
                    values[letter] += self.pen.x if letter == "X" else self.pen.y
            self.pen.go(act, values.get("X"), values.get("Y"), values.get("I", 0.0), values.get("J", 0.0))

    def _select(self, number: int) -> int:
        """A D code: what to do, or the aperture to take."""
        if number in (1, 2, 3):
            return number
        if number in self.pen.blocks:
            self.pen.block = self.pen.blocks[number]
        elif number in self._apertures:
            self.pen.block = None
            self.pen.aperture = self._apertures[number]
        elif number >= 10:
            raise Damaged(f"aperture D{number} is used and defined nowhere; it is wanted; export the file again")
        return 0

    def _mode(self, number: int) -> None:
        """A G code."""
        act: dict[int, Callable[[], None]] = {36: self.pen.open_area, 37: self.pen.close_area}
        if number in (1, 2, 3):
            self.pen.bend = number
        elif number in act:
            act[number]()
        elif number in (74, 75):
            self.pen.one_quadrant = number == 74
        elif number in (70, 71):
            self._scale = 25.4 if number == 70 else 1.0
        elif number in (90, 91):
            self._step = number == 91

    def _coordinate(self, text: str) -> float:
        """A number of the file in mm."""
        if "." in text:
            return _number(text) * self._unit()
        if self._digits is None:
            raise Damaged("coordinates before any format; FSLAX46Y46 or alike is wanted first; export the file again")
        whole, part = self._digits
        digits = text.lstrip("+-")
        if self._trailing:
            digits = digits.ljust(whole + part, "0")
        if len(digits) > 15:
            raise Damaged(f"the coordinate {text[:30]!r}; at most 15 digits are allowed; export the file again")
        made = int(digits or "0") / float(10**part) * self._unit()
        return -made if text.startswith("-") else made

    def _unit(self) -> float:
        """Millimetres in one unit of the file."""
        if not self._scale:
            raise Damaged("sizes before any unit; MOMM or MOIN is wanted first; export the file again")
        return self._scale

    def finish(self, broken_off: bool) -> Picture:
        """What was drawn, or why it is no Gerber file."""
        if not self._seen or (self._digits is None and not self.pen.attributes):
            raise Damaged("no Gerber command is found; a Gerber file is wanted; check what was exported")
        remarks = list(self._remarks)
        damage = ""
        if not self.ended:
            damage = "it breaks off inside a command, before any M02" if broken_off else NO_END
        return self.pen.finish(remarks, damage, self.negative)


def file_function(attributes: Mapping[str, str]) -> tuple[str, ...]:
    """Fields of the file function, such as Copper, L1, Top.

    Parameters
    ----------
    attributes : Mapping
        What a file says of itself.

    Returns
    -------
    tuple of str
        The fields; empty when it says nothing.
    """
    value = attributes.get(".FileFunction", "")
    return tuple(part.strip() for part in value.split(",")) if value else ()


def _unescaped(found: re.Match[str]) -> str:
    """A character written by its code; a comma stays so, since it would part fields."""
    character = chr(int(found[1], 16))
    return found[0] if character == "," else character


def _number(text: str) -> float:
    """A decimal number."""
    try:
        return float(text)
    except ValueError:
        raise Damaged(f"{text[:30]!r} is no number; a decimal number is wanted; export the file again") from None


def _whole(text: str) -> int:
    """A whole number, such as that of a code."""
    try:
        return int(float(text))
    except (ValueError, OverflowError):
        raise Damaged(f"{text[:30]!r} is no code; a whole number is wanted; export the file again") from None
