"""What displays would show with a board as its files have it: in words, as JSON, and as a pair of pictures."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from scanloom.handbook.limits import limit
from scanloom.report import review_documents as d
from scanloom.report.figures import figure
from scanloom.report.requested import averaged_down
from scanloom.survey.as_built_model import BuiltColour, BuiltDisplay, BuiltShown, Finding

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SMALL_PX = 320
"""Widest picture of a pair; two stand side by side on a page, one above the other on a telephone. [px]"""
_NAMES = {
    (): "black", ("red",): "red", ("green",): "green", ("blue",): "blue", ("red", "green"): "yellow",
    ("red", "blue"): "magenta", ("green", "blue"): "cyan",
}  # fmt: skip
_COLOURS = ("red", "green", "blue")
_GONE, _EVEN = 0.35, 0.05  # shares of white below which a colour counts as missing, and that nobody sees
_SAME = 0.01  # share by which two whites may differ and still be called the same


def built_words(one: BuiltDisplay) -> tuple[str, ...]:
    """What a display would show otherwise than it should, worst first.

    Parameters
    ----------
    one : BuiltDisplay
        The display.

    Returns
    -------
    tuple of str
        Clauses without full stops; none where nothing differs.
    """
    made = [*_lock(one), *_colours(one)]
    if not any(colour.built_v is not None for colour in one.colours) and one.colours:
        made.append(f"{one.display} stays dark")
    elif (look := _white_look(one)) and made and any("missing" in clause for clause in made):
        made = [f"{clause}: {look}" if "missing" in clause else clause for clause in made]
    elif look:
        made.append(look)
    made += _levels(one.colours)
    if made or one.differs:
        made.append(
            f"{one.apart.mean:.1f} of 255 steps from what is meant on average, {one.apart.share:.1%} of the picture by more than 8"
        )
    return tuple(made)


def shown_line(one: BuiltDisplay) -> str:
    """The same as one sentence.

    Parameters
    ----------
    one : BuiltDisplay
        The display.

    Returns
    -------
    str
        Empty where nothing differs.
    """
    words = built_words(one)
    if not words:
        return ""
    head = one.display if words[0].startswith("it ") else f"{one.display} would show"
    return f"{head}: {'; '.join(words)}."


def finding_lines(shown: BuiltShown) -> dict[Finding, str]:
    """A line for each finding: what its display would show, or why that is not drawn.

    Parameters
    ----------
    shown : BuiltShown
        The displays.

    Returns
    -------
    dict
        By code and subject; nothing where the picture is the one that is meant.
    """
    made = {finding: line for one in shown.displays if (line := shown_line(one)) for finding in one.findings}
    for one in shown.displays:
        for code, subject in one.findings:
            if (code, subject) not in made and subject.partition("#")[0].endswith((".h", ".v")):
                made[code, subject] = (
                    f"{one.display}: the sync comes from the pin that is meant; what its other level or edge does is not drawn."
                )
    for connector, reason in shown.not_drawn.items():
        words = f"What a display at {connector} would show is not drawn: {reason}"
        made.update(dict.fromkeys(shown.asked.get(connector, ()), words))
    return made


def built_doc(shown: BuiltShown) -> d.BuiltShownDoc:
    """Displays as built, for JSON.

    Parameters
    ----------
    shown : BuiltShown
        The displays.

    Returns
    -------
    BuiltShownDoc
        Words and figures; no picture.
    """
    return d.BuiltShownDoc(
        displays=[
            d.BuiltDisplayDoc(
                display=one.display, connector=one.connector, rig=one.rig,
                findings=[list(finding) for finding in one.findings], words=list(built_words(one)), locks=one.lock.locks,
                apart=d.BuiltApartDoc(mean=one.apart.mean, worst=one.apart.worst, share=one.apart.share),
                white=[
                    d.BuiltWhiteDoc(channel=c.channel, shows=c.shows, meant_v=c.meant_v, built_v=c.built_v)
                    for c in one.colours
                ],
            )
            for one in shown.displays
            if built_words(one)
        ],
        not_drawn=dict(shown.not_drawn),
    )  # fmt: skip


def built_images(one: BuiltDisplay) -> tuple[tuple[str, str], tuple[str, str]]:
    """Both pictures, each as the address of its data and words that stand for it.

    Parameters
    ----------
    one : BuiltDisplay
        The display.

    Returns
    -------
    tuple of tuple of str
        As meant, then as the files have it.
    """
    line = shown_line(one)
    return (
        (_address(one.meant), f"What {one.display} should show, rig {one.rig}: a test card with its name."),
        (_address(one.built), f"With the board as the files have it {line}"),
    )


def built_figure(one: BuiltDisplay) -> str:
    """Both pictures side by side, with the words below.

    Parameters
    ----------
    one : BuiltDisplay
        The display.

    Returns
    -------
    str
        HTML; empty where nothing differs.
    """
    line = shown_line(one)
    if not line:
        return ""
    pictures = "".join(
        f'<div><img src="{source}" alt="{escape(words)}"><span class="from soft">{name}</span></div>'
        for (source, words), name in zip(built_images(one), ("meant", "as the files have it"), strict=True)
    )
    caption = f'<figcaption class="from soft">Rig {escape(one.rig)}. {escape(line)}</figcaption>'
    return f'<figure class="as-built"><div class="pair">{pictures}</div>{caption}</figure>'


def _lock(one: BuiltDisplay) -> list[str]:
    """What the syncs do."""
    lock = one.lock
    if lock.as_meant:
        return []
    says = "H and V exchanged" if lock.exchanged else ""
    if lock.dead:
        says = f"no pin of the chip drives {' or '.join(axis.upper() for axis in lock.dead)} sync"
    parts = [part for part in (says, lock.reason) if part]
    if lock.lines_hz is not None:
        parts.insert(1, f"its H pin gets {lock.lines_hz:.4g} pulses a second")
    head = {False: "it would not lock", None: "it may not lock", True: "it locks"}[lock.locks]
    return [f"{head}: {', '.join(parts)}"] if parts else []


def _colours(one: BuiltDisplay) -> list[str]:
    """Colours that are missing, exchanged, or another display's."""
    made: list[str] = []
    by_name = {colour.channel: colour for colour in one.colours}
    others = {c.channel: c.source for c in one.colours if c.shows == "other" and c.source is not None}
    done: set[str] = set()
    strangers = {source[0] for source in others.values()} - {one.display}
    if len(others) == len(one.colours) and len(strangers) == 1 and all(name == s[1] for name, s in others.items()):
        made.append(f"the picture of {strangers.pop()}")
        done |= set(others)
    for name, (display, colour) in others.items():
        if name in done:
            continue
        back = others.get(colour) if display == one.display else None
        if back == (one.display, name):
            made.append(f"{name} and {colour} exchanged")
            done |= {name, colour}
        else:
            whose = "" if display == one.display else f" of {display}"
            made.append(f"{name} shows what is meant for {colour}{whose}")
            done.add(name)
    gone = [n for n, c in by_name.items() if c.shows == "dark" and c.meant_v is not None]
    if gone:
        made.append(f"{_listed(gone)} {'is' if len(gone) == 1 else 'are'} missing")
    mixed = [n for n, c in by_name.items() if c.shows == "mixed"]
    if mixed:
        made.append(f"{_listed(mixed)} {'shows' if len(mixed) == 1 else 'show'} what is meant for nobody")
    return made


def _white_look(one: BuiltDisplay) -> str:
    """What a wide white area looks like beside the white that is meant; nothing where another display's picture stands."""
    if any(colour.source is not None and colour.source[0] != one.display for colour in one.colours):
        return ""
    shares = {
        name: built / meant
        for name, meant, built in zip(_COLOURS, one.meant_white, one.built_white, strict=True)
        if meant > 8.0
    }
    if not shares or one.lock.locks is False or max(shares.values()) < _GONE:
        return ""
    most, least = max(shares.values()), min(shares.values())
    if most - least > _EVEN:
        lit = tuple(name for name in _COLOURS if shares.get(name, 0.0) >= _GONE)
        if len(lit) < len(shares):
            return f"white looks {_NAMES[lit]}"
        strong = tuple(name for name in _COLOURS if shares.get(name, 0.0) > (most + least) / 2.0)
        return f"white leans to {_NAMES.get(strong, 'white')}"
    return f"white is {1.0 - most:.0%} darker" if most < 1.0 - _EVEN else ""


def _levels(colours: Sequence[BuiltColour]) -> list[str]:
    """White of each colour where it is another than meant, alike ones in one clause; what clips, and what is out of order."""
    most_v = limit("full-scale").high or 1.0
    said: dict[str, list[str]] = {}
    others: dict[str, list[str]] = {}
    for one in colours:
        if one.built_v is None:
            continue
        if one.meant_v is None or abs(one.built_v - one.meant_v) > _SAME * one.meant_v:
            place = "" if one.meant_v is None else f" in place of {figure(one.meant_v, 'V')}"
            words = f"is {figure(one.built_v, 'V')}{place}"
            if one.built_v > most_v:
                words += f": clipped, since an input takes {most_v:.1f} V at most"
            if one.alike:
                words += f", and everything from number {one.alike[0]} up looks alike"
            said.setdefault(words, []).append(one.channel)
        elif one.alike:
            others.setdefault(f"everything from number {one.alike[0]} up looks alike", []).append(one.channel)
        if one.astray:
            others.setdefault(f"number {one.astray[1]} is darker than number {one.astray[0]}", []).append(one.channel)
    alone = len(colours) == 1
    return [
        *(f"white {words}" if alone else f"white of {_listed(names)} {words}" for words, names in said.items()),
        *(words if alone else f"{_listed(names)}: {words}" for words, names in others.items()),
    ]


def _listed(names: Sequence[str]) -> str:
    """Names as a list in a sentence."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _address(picture: NDArray[np.uint8]) -> str:
    """A picture as the address of its own data."""
    from scanloom.formats.image_file import png_bytes

    small, _ = averaged_down(picture, SMALL_PX)
    return "data:image/png;base64," + b64encode(png_bytes(small)).decode()
