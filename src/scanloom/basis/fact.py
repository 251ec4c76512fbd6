"""Facts: what a statement says, and where it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Generic, Literal, TypeVar

from scanloom.basis.record import record

T = TypeVar("T")

Origin = Literal[
    "measured",
    "sheet",
    "standard",
    "said",
    "guess",
    "because",
    "datasheet",
    "handbook",
    "derived",
    "common practice",
    "recalled",
]
"""First six: words a maker writes after the semicolon; last five: standings of handbook rows."""

MAKER_ORIGINS: tuple[Origin, ...] = ("measured", "sheet", "standard", "said", "guess", "because")
GUESSES: frozenset[str] = frozenset({"guess", "handbook", "derived", "common practice", "recalled"})


@record
class Fact:
    """One statement that a result rests on.

    Parameters
    ----------
    key : str
        Place of the statement, such as ``displays.hero-left.colour_load`` or ``handbook.dmt.0x04``.
    text : str
        The statement as written, without its origin.
    origin : Origin
        Where it comes from.
    detail : str
        Words that follow the origin: who, when, page; for a decision, the reason.
    source : str
        Key in the handbook's list of sources, empty for what the maker states.
    class_value : bool
        Whether the value stands for a whole class of things and so counts as a guess.
    """

    key: str
    text: str
    origin: Origin
    detail: str = ""
    source: str = ""
    class_value: bool = False

    @property
    def is_guess(self) -> bool:
        """Whether what rests on this statement holds only on a guess."""
        return self.class_value or self.origin in GUESSES


@record
class Known(Generic[T]):
    """A value together with the facts it rests on.

    Stages take the value out only by calling their Reading with it, which notes the facts.

    Parameters
    ----------
    value : T
        The value.
    facts : tuple of Fact
        What the value rests on, in the order read.
    """

    value: T
    facts: tuple[Fact, ...]


def copied(known: Known[T], via: Fact) -> Known[T]:
    """Carry a stated value over to something declared to be alike.

    Parameters
    ----------
    known : Known
        Value as stated for the first thing.
    via : Fact
        The statement that the second thing is alike.

    Returns
    -------
    Known
        Same value; measured, sheet and standard fall to said, a guess stays a guess.
    """
    facts = tuple(f if f.is_guess or f.origin == "because" else replace(f, origin="said") for f in known.facts)
    return Known(known.value, merged((*facts, via)))


def merged(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """Facts without repeats, in the order first met.

    Parameters
    ----------
    facts : iterable of Fact
        Facts, perhaps repeated.

    Returns
    -------
    tuple of Fact
        One of each; of two origins for one key the weaker stays.
    """
    kept: dict[str, Fact] = {}
    for fact in facts:
        old = kept.get(fact.key)
        if old is None or (fact.is_guess and not old.is_guess):
            kept[fact.key] = fact
    return tuple(kept.values())
