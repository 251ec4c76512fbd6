"""What the maker accepted, and whether that still stands on the same facts."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace

from scanloom.basis.fact import merged
from scanloom.basis.verdict import Settle, State, Verdict
from scanloom.dossier.model import Accepted

NEEDS_NAME = frozenset({"levels.pin-current", "levels.bank-current", "levels.chip-current", "waking.back-fed"})
"""Stops on over-current: whoever accepts one must be named, and report and page print it first."""


def mark_of(verdicts: Iterable[Verdict]) -> str:
    """Fingerprint of what verdicts rest on: it changes when one of the facts, or one's origin, does.

    Parameters
    ----------
    verdicts : iterable of Verdict
        Verdicts that one acceptance covers.

    Returns
    -------
    str
        Twelve hexadecimal digits.
    """
    facts = merged(fact for verdict in verdicts for fact in verdict.rests_on)
    lines = sorted(f"{fact.key}\t{fact.text}\t{fact.origin}" for fact in facts)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:12]


def accept(verdicts: Sequence[Verdict], accepted: Sequence[Accepted]) -> tuple[Verdict, ...]:
    """Verdicts with what was accepted marked as such, or as stale.

    Parameters
    ----------
    verdicts : sequence of Verdict
        As the stages made them.
    accepted : sequence of Accepted
        What the maker accepted.

    Returns
    -------
    tuple of Verdict
        The same verdicts; a note for each acceptance that meets no check.
    """
    made = list(verdicts)
    notes: list[Verdict] = []
    for number, one in enumerate(accepted, 1):
        covered = covered_by(made, one.code, one.subject, one.rig)
        if not covered:
            notes.append(_meets_nothing(one, number))
            continue
        mark = mark_of(made[i] for i in covered)
        nameless = not one.by and any(made[i].code in NEEDS_NAME and made[i].weight == "stop" for i in covered)
        state: State = "accepted" if one.mark == mark and not nameless else "stale"
        again = Settle(
            f'Look at it again; if it still stands, write this line into [[accepted]] number {number}:\n  mark = "{mark}"',
            minutes=2,
            fact=f"accepted.{number}.mark",
        )
        if nameless and one.mark == mark:
            again = Settle(
                f'A limit on current is passed, so whoever accepts it must be named: write by = "name" into [[accepted]] number {number}.',
                minutes=2,
                fact=f"accepted.{number}.by",
            )
        because = f"{one.because} ({one.by})" if one.by else one.because
        for i in covered:
            if made[i].judged != "holds":
                settle = made[i].settle if state == "accepted" else again
                made[i] = replace(made[i], state=state, because=because, settle=settle)
    return (*made, *notes)


def covered_by(verdicts: Sequence[Verdict], code: str, subject: str, rig: str) -> list[int]:
    """Which verdicts an acceptance covers; without a rig, those of all rigs.

    Parameters
    ----------
    verdicts : sequence of Verdict
        All verdicts.
    code : str
        Code accepted.
    subject : str
        Subject accepted.
    rig : str
        Rig, or empty.

    Returns
    -------
    list of int
        Their places in the sequence. [1]
    """
    return [i for i, v in enumerate(verdicts) if v.code == code and v.subject == subject and rig in ("", v.rig)]


def _meets_nothing(one: Accepted, number: int) -> Verdict:
    """A note on an acceptance that nobody asks for."""
    return Verdict(
        code="survey.accepts-nothing",
        subject=f"accepted.{number}",
        rig=one.rig,
        state="unknown",
        weight="note",
        says=f"No check says {one.code} about {one.subject}: this acceptance may be deleted.",
        judged="unknown",
    )
