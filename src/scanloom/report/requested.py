"""Work that sheets do on request: sync edges solved in full, and the pictures that the displays show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanloom.report.drawings.drawing import Table
from scanloom.report.drawings.passings import sync_passings
from scanloom.report.on_request import Answered, OnRequest, Pictured

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scanloom.report.stage_sheets import SheetInput
    from scanloom.survey.drawn import DrawnDisplay

SMALL_PX = 160
"""Widest picture of the overview; two stand side by side on a telephone. [px]"""
APART_TIMES = 4
"""How much brighter the difference of two pictures is shown than it is. [1]"""

# written here, since the module that draws them loads a heavy library; a test compares both lists
PICTURES = {
    "card": "card of several pictures",
    "border": "border one pixel wide",
    "bars": "upright bars",
    "checker": "checker of single pixels",
    "column": "one lit column",
    "text": "letters and digits",
    "ramps": "ramps",
    "lanes": "one field a lane",
}
"""Built-in test pictures with a few words each."""


def answer_passings(given: SheetInput, choice: str) -> Answered:
    """When the sync passes both levels at each display.

    Parameters
    ----------
    given : SheetInput
        What is shown.
    choice : str
        Unused: there is nothing to choose.

    Returns
    -------
    Answered
        One drawing.

    Raises
    ------
    ValueError
        If no display has all its facts.
    """
    made = sync_passings(given.rig, given.plan)
    if made is None:
        raise ValueError("no display with known cable, load and sync driver; the open verdicts say what is missing")
    return Answered(made.result, (made,))


def answer_pictures(given: SheetInput, choice: str) -> Answered:
    """What every display of a rig shows, beside what it should show.

    Parameters
    ----------
    given : SheetInput
        What is shown.
    choice : str
        Name of a built-in picture.

    Returns
    -------
    Answered
        Pictures, figures, words, and the checks that come with them.

    Raises
    ------
    ValueError
        If the rig's plan is too incomplete.
    """
    from scanloom.report.picture_text import picture_figures, picture_words
    from scanloom.stages.picture.effects import Effects
    from scanloom.stages.picture.model import usual_front_end
    from scanloom.stages.picture.patterns import PATTERNS
    from scanloom.survey.drawn import draw_pattern

    name = next((one for one in PATTERNS if one == choice), PATTERNS[0])
    effects = Effects()
    drawn = draw_pattern(given.plan, given.survey, given.rig, name, effects, usual_front_end({}))
    head, rows = picture_figures(drawn)
    dark = [one.path.name for one in drawn.displays if one.outlook.locks is False]
    unsure = [one.path.name for one in drawn.displays if one.outlook.locks is None]
    furthest = max(drawn.displays, key=lambda one: one.apart.mean)
    result = (
        f"{furthest.path.name} is furthest from what it should show: {furthest.apart.mean:.1f} of 255 steps on average."
    )
    if unsure:
        result = f"It is not sure that {', '.join(unsure)} will lock. {result}"
    if dark:
        result = f"{', '.join(dark)} stay{'s' if len(dark) == 1 else ''} dark. {result}"
    return Answered(
        result,
        pictures=tuple(one for display in drawn.displays for one in _pictures(display)),
        table=Table(
            "Each display, its worst channel",
            (
                head[0].capitalize(), "Locks", "White#", "Contrast of single pixels#", "Left beside a pixel#", "Beyond the input#",
                "From the ideal#",
            ),
            rows,
        ),
        words=picture_words(drawn, effects),
        verdicts=tuple(v for v in drawn.verdicts if v.code in ("picture.ghost", "picture.contrast")),
    )  # fmt: skip


def _pictures(one: DrawnDisplay) -> list[Pictured]:
    """Four pictures of one display."""
    import numpy as np

    lit, ideal, name = one.lit(), one.ideal.native, one.path.name
    apart = np.minimum(np.abs(lit.astype(np.int16) - ideal.astype(np.int16)) * APART_TIMES, 255).astype(np.uint8)
    dark = ", dark, since it does not lock" if one.outlook.locks is False else ""
    lines, samples = lit.shape[:2]
    small, squares = averaged_down(lit)
    reduced = "" if squares == 1 else f", averaged over {squares} x {squares} samples"
    return [
        _pictured(name, "small", f"{name}{dark}{reduced}", small),
        _pictured(name, "shown", f"What {name} shows: {samples} x {lines} samples, one for one{dark}.", lit),
        _pictured(name, "ideal", f"What {name} should show: the same frame with every effect off.", ideal),
        _pictured(
            name, "apart", f"Difference of the two, {APART_TIMES} times as bright as it is; black where they agree.", apart
        ),
    ]  # fmt: skip


def averaged_down(picture: NDArray[np.uint8], most_px: int = SMALL_PX) -> tuple[NDArray[np.uint8], int]:
    """A picture small enough for an overview, each of its pixels the mean of a whole square.

    Parameters
    ----------
    picture : ndarray of uint8, shape (rows, pixels, 3)
        The picture. [1]
    most_px : int
        Widest that is small enough. [px]

    Returns
    -------
    tuple
        The smaller picture, shape (rows, pixels, 3), and the side of a square; what does not fill a square is left out. [1]

    Notes
    -----
    The side is a power of two, so that a checker of pixels sent once or twice comes out as even grey. A picture that a browser
    scales down shows stripes that no display shows.
    """
    import numpy as np

    rows, pixels = picture.shape[:2]
    side = 1
    while pixels // side > most_px:
        side *= 2
    if side == 1 or rows < side:
        return picture, 1
    high, wide = rows // side, pixels // side
    squares = picture[: high * side, : wide * side].reshape(high, side, wide, side, 3)
    return np.rint(squares.mean(axis=(1, 3))).astype(np.uint8), side


def _pictured(display: str, kind: str, caption: str, picture: NDArray[np.uint8]) -> Pictured:
    """A picture packed."""
    from scanloom.formats.image_file import png_bytes

    return Pictured(display, kind, caption, png_bytes(picture), (picture.shape[1], picture.shape[0]))


PASSINGS = OnRequest(
    "passings",
    "Sync edges solved in full",
    "The bars above follow the echoes as a staircase, at every change. Asked for, both edges are solved with cable losses and "
    "capacitances, beside each display's own colour edges. It takes a moment.",
    "Solve the edges",
    answer_passings,
    {},
)
SHOWN = OnRequest(
    "shown",
    "What the displays will show",
    "A test picture goes through the whole plan: packed into words, sent, divided, through cable and input, sampled. It takes a "
    "second, the first time some ten.",
    "Draw the pictures",
    answer_pictures,
    PICTURES,
)
