"""What is still open, gathered under the fact that would settle it, the cheapest first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.survey import Survey
from scanloom.survey.acceptance import NEEDS_NAME

_ORDER = {"fails": 0, "stale": 1, "unknown": 2, "accepted": 3, "holds": 4}
_WEIGHTS = {"stop": 0, "caution": 1, "note": 2}


@record
class Card:
    """A verdict, and the others that say the same.

    Parameters
    ----------
    verdict : Verdict
        The first of them, which stands for all.
    also : tuple of str
        Further subjects.
    rigs : tuple of str
        Rigs it was judged for; empty when for all.
    stage : str
        Stage that made it.
    ways : tuple of str
        Further ways out, which no patch of the dossier can make.
    """

    verdict: Verdict
    also: tuple[str, ...]
    rigs: tuple[str, ...]
    stage: str
    ways: tuple[str, ...] = ()


@record
class Group:
    """Cards that one fact would settle.

    Parameters
    ----------
    fact : str
        Key of the fact.
    minutes : float
        Time the cheapest way to settle it takes. [min]
    cards : tuple of Card
        Worst first.
    """

    fact: str
    minutes: float
    cards: tuple[Card, ...]


@dataclass(slots=True)
class _Gathered:
    """Verdicts of one fact while they are gathered."""

    minutes: float = float("inf")
    alike: dict[tuple[object, ...], list[Verdict]] = field(default_factory=dict)


def open_groups(survey: Survey, *, notes: bool = False) -> tuple[Group, ...]:
    """Open verdicts under the facts that settle them, cheapest first.

    Parameters
    ----------
    survey : Survey
        The survey.
    notes : bool
        Whether to gather open notes, which never count, instead of all that counts.

    Returns
    -------
    tuple of Group
        By minutes, stops before cautions where they take alike.
    """
    gathered: dict[str, _Gathered] = {}
    for v in survey.verdicts:
        if not v.is_open or (v.weight == "note") is not notes:
            continue
        one = gathered.setdefault(settled_by(v), _Gathered())
        one.minutes = min(one.minutes, v.settle.minutes if v.settle is not None else float("inf"))
        own = v.subject.split(".")[1] if "." in v.subject else v.subject
        says = v.says.replace(own, "*") if v.found is None else v.limit
        one.alike.setdefault((v.code, v.state, v.weight, v.found, says), []).append(v)
    groups = [Group(fact, one.minutes, _cards(one, survey)) for fact, one in gathered.items()]
    return tuple(sorted(groups, key=lambda g: (g.minutes, _WEIGHTS[g.cards[0].verdict.weight], g.fact)))


def opened_first(verdicts: Iterable[Verdict]) -> tuple[list[Verdict], list[Verdict]]:
    """Verdicts in the order that they are read in.

    Parameters
    ----------
    verdicts : iterable of Verdict
        All of a review.

    Returns
    -------
    tuple of list
        Those that do not hold, the worst first and notes last, and those that hold.
    """
    ordered = sorted(verdicts, key=lambda v: (v.weight == "note", _ORDER[v.state], _WEIGHTS[v.weight]))
    return [v for v in ordered if v.state != "holds"], [v for v in ordered if v.state == "holds"]


def settled_by(verdict: Verdict) -> str:
    """Fact that would settle a verdict.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    str
        The fact its measurement replaces, else the first guess it rests on, else its subject.
    """
    if verdict.settle is not None and verdict.settle.fact:
        return verdict.settle.fact
    return next((fact.key for fact in verdict.rests_on if fact.is_guess), verdict.subject)


def accepted_harm(survey: Survey) -> tuple[Verdict, ...]:
    """Accepted stops about over-current, to be printed first.

    Parameters
    ----------
    survey : Survey
        The survey.

    Returns
    -------
    tuple of Verdict
        Each once.
    """
    found = {
        (v.code, v.subject): v
        for v in survey.verdicts
        if v.weight == "stop" and v.code in NEEDS_NAME and v.because and v.judged != "holds"
    }
    return tuple(found.values())


def _cards(one: _Gathered, survey: Survey) -> tuple[Card, ...]:
    """Cards of one fact, worst first."""
    made = []
    for alike in one.alike.values():
        first = alike[0]
        also = tuple(dict.fromkeys(v.subject for v in alike if v.subject != first.subject))
        named = tuple(dict.fromkeys(v.rig for v in alike if v.rig))
        stage = first.code.partition(".")[0]
        made.append(Card(first, also, () if len(named) >= len(survey.rigs) else named, stage, _ways(first, survey)))
    return tuple(sorted(made, key=lambda c: (_ORDER[c.verdict.state], _WEIGHTS[c.verdict.weight], c.verdict.code)))


def _ways(verdict: Verdict, survey: Survey) -> tuple[str, ...]:
    """Ways out of a frame that does not fit, beside those that the verdict offers as patches."""
    if verdict.code != "memory.blocks":
        return ()
    for rig in survey.rigs:
        if rig.name == verdict.rig and rig.memory is not None:
            offered = {change.what for change in rig.memory.changes}
            return tuple(
                f"{'or' if cure.fits else 'would not do:'} {cure.what}: {cure.used_bytes} B; {cure.cost}"
                for cure in rig.memory.cures
                if cure.what not in offered
            )
    return ()


def worst_state(verdicts: Sequence[Verdict]) -> str:
    """State of a stage as a whole, notes apart.

    Parameters
    ----------
    verdicts : sequence of Verdict
        Its checks.

    Returns
    -------
    str
        Of its worst check; ``guess`` where all hold, some only on a guess; unknown when it made none.
    """
    counting = [v for v in verdicts if v.weight != "note"]
    if not counting:
        return "holds" if verdicts else "unknown"
    worst = min((v.state for v in counting), key=lambda state: _ORDER[state])
    return "guess" if worst == "holds" and any(v.on_guess for v in counting) else worst
