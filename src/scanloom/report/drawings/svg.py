"""Markup of drawings: elements with classes, no colours, no style attributes, so that one look serves page and paper."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

CHAR_PX = 7.3
"""Width of a 12 px character in the widest font the page may meet, for keeping labels apart. [px]"""


def element(name: str, inside: str = "", **attributes: object) -> str:
    """One element.

    Parameters
    ----------
    name : str
        Its name.
    inside : str
        Markup inside.
    **attributes : object
        Attributes; an underscore becomes a hyphen, `class_` is `class`, None and empty text are left out.

    Returns
    -------
    str
        Markup; numbers to a hundredth of a pixel.
    """
    told = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_shown(value)}"'
        for key, value in attributes.items()
        if value is not None and value != ""
    )
    return f"<{name}{told}>{inside}</{name}>" if inside else f"<{name}{told}/>"


def text(x: float, y: float, words: str, class_: str = "", **attributes: object) -> str:
    """A line of text; `e` in its classes ends it at x, `m` puts its middle there.

    Parameters
    ----------
    x : float
        Where it starts, ends or has its middle. [px]
    y : float
        Its base line. [px]
    words : str
        The words.
    class_ : str
        Classes.
    **attributes : object
        Further attributes.

    Returns
    -------
    str
        Markup.
    """
    return element("text", escape(words, quote=False), x=x, y=y, class_=class_, **attributes)


def rect(x: float, y: float, width: float, height: float, class_: str = "") -> str:
    """A rectangle; one too thin to be seen is drawn a pixel wide.

    Parameters
    ----------
    x : float
        Left edge. [px]
    y : float
        Upper edge. [px]
    width : float
        Width. [px]
    height : float
        Height. [px]
    class_ : str
        Classes.

    Returns
    -------
    str
        Markup.
    """
    return element("rect", x=x, y=y, width=max(width, 1.0), height=max(height, 1.0), class_=class_)


def path(d: str, class_: str = "") -> str:
    """A path.

    Parameters
    ----------
    d : str
        Its moves.
    class_ : str
        Classes.

    Returns
    -------
    str
        Markup.
    """
    return element("path", d=d, class_=class_)


def line(x1: float, y1: float, x2: float, y2: float, class_: str = "") -> str:
    """A straight line.

    Parameters
    ----------
    x1 : float
        Start, to the right. [px]
    y1 : float
        Start, down. [px]
    x2 : float
        End, to the right. [px]
    y2 : float
        End, down. [px]
    class_ : str
        Classes.

    Returns
    -------
    str
        Markup.
    """
    return path(f"M{_shown(x1)} {_shown(y1)}L{_shown(x2)} {_shown(y2)}", class_)


def scale(low: float, high: float, left: float, right: float) -> Callable[[float], float]:
    """Function from values to places.

    Parameters
    ----------
    low : float
        Value at the left end. [unit]
    high : float
        Value at the right end. [unit]
    left : float
        Left end. [px]
    right : float
        Right end. [px]

    Returns
    -------
    callable
        Place of a value, held between the ends; equal bounds put all in the middle.
    """
    if high <= low:
        return lambda value: (left + right) / 2
    return lambda value: left + (right - left) * min(1.0, max(0.0, (value - low) / (high - low)))


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values inside bounds.

    Parameters
    ----------
    low : float
        Lower bound. [unit]
    high : float
        Upper bound. [unit]
    most : int
        How many at most. [1]

    Returns
    -------
    tuple of float
        Steps of 1, 2 or 5 times a power of ten. [unit]
    """
    if high <= low or most < 1:
        return ()
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * times for times in (1, 2, 5, 10) if power * times >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(round(number * step, 12) for number in range(first, last + 1))


def width_px(words: str) -> float:
    """Room that a line of 12 px text needs at most.

    Parameters
    ----------
    words : str
        The words.

    Returns
    -------
    float
        Width in the widest font. [px]
    """
    return CHAR_PX * len(words)


def cut(words: str, room: float) -> str:
    """Words that fit a room; the table beside a drawing holds them whole.

    Parameters
    ----------
    words : str
        The words.
    room : float
        Room there is. [px]

    Returns
    -------
    str
        The words, or their beginning and two dots.
    """
    most = max(3, int(room / CHAR_PX))
    return words if len(words) <= most else f"{words[: most - 2]}.."


def apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places moved as little as needed to stand apart, in their order, inside bounds where that can be.

    Parameters
    ----------
    places : sequence of float
        Where labels would like to stand, ascending. [px]
    gap : float
        Least distance of two. [px]
    low : float
        First place allowed. [px]
    high : float
        Last place allowed. [px]

    Returns
    -------
    list of float
        Where they stand. [px]
    """
    made: list[float] = []
    for wish in places:
        made.append(max(wish, low if not made else made[-1] + gap))
    limit = high
    for at in range(len(made) - 1, -1, -1):
        made[at] = min(made[at], limit)
        limit = made[at] - gap
    return made


def _shown(value: object) -> str:
    """An attribute's value: numbers short, text safe."""
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
    return escape(str(value))
