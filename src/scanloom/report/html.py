"""Templates of page and report, and what they need: marks, figures, the look."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

from scanloom.basis.fact import Fact
from scanloom.basis.verdict import TIGHT_MARGIN, Verdict
from scanloom.report import figures
from scanloom.report.drawings import patterns

if TYPE_CHECKING:
    from jinja2 import BaseLoader, BytecodeCache, Environment

_UNIT = re.compile(r"(?<=\d) (?=(?:[kMmu]?(?:Hz|V|A|W|s|ohm|B)|ppm|px|degC|B/s|Mword/s|%)(?![\w/]))")
_MARKS = {
    "holds": '<rect class="gb" x="1" y="3.5" width="10" height="5"/>',
    "guess": '<rect class="gh" x="1.6" y="4.1" width="8.8" height="3.8"/>',
    "tight": '<rect class="gb" x="1" y="3.5" width="14" height="5"/>',
    "fails": '<rect class="gb" x="1" y="3.5" width="13" height="5"/><rect class="gb" x="18" y="3.5" width="6" height="5"/>',
    "unknown": '<rect class="gb" x="1" y="3.5" width="1.5" height="5"/>',
    "accepted": '<rect class="gb" x="1" y="3.5" width="18" height="5"/><path class="gk" d="M19.5 1H23V11H19.5"/>',
    "stale": '<rect class="gb" x="1" y="3.5" width="2.4" height="5"/><rect class="gb" x="5" y="3.5" width="2.4" height="5"/>'
    '<rect class="gb" x="9" y="3.5" width="2.4" height="5"/>',
}
_CLASSES = {"guess": "holds", "fits": "holds", "over": "fails"}


def environment(*folders: str) -> Environment:
    """Templates of the report, and those of other packages before them.

    Parameters
    ----------
    *folders : str
        Packages whose folder ``templates`` is looked through first.

    Returns
    -------
    Environment
        Everything that comes out of a dossier is escaped.
    """
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    loaders: list[BaseLoader] = [PackageLoader(name) for name in (*folders, "scanloom.report")]
    made = Environment(
        loader=ChoiceLoader(loaders),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        bytecode_cache=_compiled(),
    )
    made.globals.update(mark=mark, patterns=Markup(patterns()), look=look)
    made.filters.update(
        amount=lambda one: units(figures.amount(one)),
        limit=lambda one: units(figures.limit(one)),
        units=units,
        svg=Markup,
        place=place,
        tight=lambda v: figures.is_tight(v, TIGHT_MARGIN),
        slug=slug,
        grounds=grounds,
        wraps=wraps,
        value=value,
    )
    return made


def _compiled() -> BytecodeCache | None:
    """Templates compiled once, beside the modules that Python compiles; a tenth of a second at each start."""
    from jinja2 import FileSystemBytecodeCache

    folder = Path(__file__).parent / "templates" / "__pycache__"
    try:
        folder.mkdir(exist_ok=True)
    except OSError:  # installed where nobody may write
        return None
    return FileSystemBytecodeCache(str(folder)) if os.access(folder, os.W_OK) else None


def mark(state: str, words: str = "") -> Markup:
    """The mark of a state with its word.

    Parameters
    ----------
    state : str
        State of a verdict or a gauge, or ``guess`` for what holds on one.
    words : str
        Word beside it; the state itself when empty.

    Returns
    -------
    Markup
        The mark is for the eye alone, the word for everybody.
    """
    bars = _MARKS[_CLASSES.get(state, state) if state != "guess" else "guess"]
    class_ = "holds" if state == "guess" else state
    told = words or ("holds on a guess" if state == "guess" else state)
    return Markup(
        f'<span class="st {class_}"><svg width="24" height="12" viewBox="0 0 24 12" aria-hidden="true">{bars}'
        '<rect class="gm" x="15" y="0" width="2" height="12"/></svg>'
    ) + Markup("{}</span>").format(told)


def units(words: str) -> str:
    """Text whose numbers keep their units on the same line.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        With no-break spaces between number and unit.
    """
    return _UNIT.sub("\u00a0", words)


def place(key: str) -> str:
    """A place in the dossier in few words.

    Parameters
    ----------
    key : str
        Such as ``displays.hero-left.colour_load``.

    Returns
    -------
    str
        ``hero-left colour load``.
    """
    words = key.split(".")
    if words[0] in ("displays", "rigs", "board") and len(words) > 1:
        words = words[1:]
    return " ".join(words).replace("_", " ")


def slug(key: str) -> str:
    """A key as part of an element's name.

    Parameters
    ----------
    key : str
        Any key.

    Returns
    -------
    str
        Letters, digits and hyphens.
    """
    return re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-")


def grounds(verdict: Verdict) -> tuple[Fact, ...]:
    """Facts that a card names: guesses first, six at most.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    tuple of Fact
        Of those it rests on.
    """
    return tuple(sorted(verdict.rests_on, key=lambda fact: not fact.is_guess)[:6])


def wraps(key: str) -> Markup:
    """A key that a narrow column breaks at its dots alone.

    Parameters
    ----------
    key : str
        Any key.

    Returns
    -------
    Markup
        The key with places to break.
    """
    return Markup(".<wbr>").join(key.split("."))


def value(fact: Fact) -> str:
    """What a fact says, short: a row of the handbook is named by its place, not spelt out.

    Parameters
    ----------
    fact : Fact
        The fact.

    Returns
    -------
    str
        Its text, or that it is a row of a table.
    """
    return "a row of the handbook" if fact.text.startswith("{") else units(fact.text)


@cache
def look(*names: str) -> Markup:
    """Style sheets, one after the other.

    Parameters
    ----------
    *names : str
        Names without their ending.

    Returns
    -------
    Markup
        Their text.
    """
    folder = files("scanloom.report") / "look"
    return Markup("").join(Markup((folder / f"{name}.css").read_text(encoding="utf-8")) for name in names)


def counted(verdicts: Sequence[Verdict]) -> str:
    """How many checks are in each state, notes too.

    Parameters
    ----------
    verdicts : sequence of Verdict
        Checks.

    Returns
    -------
    str
        Such as ``2 fail, 30 hold``; states that none is in are left out.
    """
    words = {"fails": "fail", "unknown": "unknown", "stale": "stale", "accepted": "accepted", "holds": "hold"}
    counts = {state: sum(v.state == state for v in verdicts) for state in words}
    return ", ".join(f"{count} {words[state]}" for state, count in counts.items() if count) or "no checks"
