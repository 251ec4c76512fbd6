"""A drawing with its words: the same for page, paper and notebook."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from html import escape
from importlib.resources import files

from scanloom.basis.record import record

WIDE_PX, NARROW_PX = 680, 330
"""Widths a drawing is made for: a sheet of paper or a screen, and a telephone. [px]"""

Draw = Callable[[float], tuple[str, float]]
"""From a width to the markup inside and its height. [px]"""


@record
class Table:
    """Figures beside a drawing.

    Parameters
    ----------
    caption : str
        What it lists.
    head : tuple of str
        Column headings; one that ends in ``#`` holds numbers and is set to the right.
    rows : tuple of tuple
        Cells, the first of each row its heading.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@record
class Drawing:
    """One drawing at both widths.

    Parameters
    ----------
    name : str
        Slug, unique on a sheet.
    heading : str
        Its heading.
    says : str
        One plain sentence that explains what is drawn.
    result : str
        What it shows, the sentence to be read if nothing else is.
    wide : str
        SVG, 680 wide.
    narrow : str
        SVG, 330 wide, its text the same size.
    table : Table or None
        The same figures as text.
    """

    name: str
    heading: str
    says: str
    result: str
    wide: str
    narrow: str
    table: Table | None = None

    def standalone(self) -> str:
        """The wide drawing with its look inside, for a notebook or a file of its own.

        Returns
        -------
        str
            SVG with literal colours of the light look.
        """
        head, rest = self.wide.split(">", 1)
        return f'{head} xmlns="http://www.w3.org/2000/svg"><style>{_look()}</style>{patterns()}{rest}'

    def _repr_svg_(self) -> str:
        """What a notebook shows."""
        return self.standalone()


def drawing(name: str, heading: str, says: str, result: str, draw: Draw, table: Table | None = None) -> Drawing:
    """A drawing made at both widths.

    Parameters
    ----------
    name : str
        Slug, unique on a sheet.
    heading : str
        Its heading.
    says : str
        One plain sentence that explains what is drawn.
    result : str
        What it shows.
    draw : callable
        From a width to the markup inside and its height.
    table : Table or None
        The same figures as text.

    Returns
    -------
    Drawing
        Both widths, each named for a screen reader by heading and result.
    """
    return Drawing(
        name, heading, says, result, _svg(name, "wide", WIDE_PX, f"{heading}. {result}", draw),
        _svg(name, "narrow", NARROW_PX, f"{heading}. {result}", draw), table,
    )  # fmt: skip


def patterns() -> str:
    """Hatches that drawings fill with; once on each page.

    Returns
    -------
    str
        A definitions element.
    """
    return "<defs>" + "".join(_hatch(*row) for row in _HATCHES) + "</defs>"


_HATCHES = (
    ("hatch-data", "ps", 6),
    ("hatch-red", "pr", 6),
    ("hatch-green", "pg", 6),
    ("hatch-blue", "pl", 6),
    ("hatch-out", "px", 6),
    ("hatch-soft", "pq", 6),
)


def _hatch(name: str, class_: str, step: int) -> str:
    """Stripes at 45 degrees; over-limit stripes lean the other way, so that grey tells them apart."""
    turn = -45 if name == "hatch-out" else 45
    return (
        f'<pattern id="{name}" width="{step}" height="{step}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({turn})"><rect class="pb" width="{step}" height="{step}"/>'
        f'<path class="{class_}" d="M0 {step / 4:g}H{step}"/></pattern>'
    )


def _svg(name: str, width: str, size: int, title: str, draw: Draw) -> str:
    """The whole drawing at one width."""
    inside, height = draw(float(size))
    shown = f"{height:.0f}"
    return (
        f'<svg class="drawing {width}" width="{size}" height="{shown}" viewBox="0 0 {size} {shown}" role="img" '
        f'aria-label="{escape(title)}">{inside}</svg>'
    )


@cache
def _look() -> str:
    """Style sheet of a drawing that stands alone."""
    folder = files("scanloom.report") / "look"
    light = (folder / "colours.css").read_text(encoding="utf-8").split("@media")[0].replace(":root", "svg")
    return f"{light}{(folder / 'drawings.css').read_text(encoding='utf-8')}"
