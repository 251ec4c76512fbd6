"""Reading facts: whoever reads one has it noted, and every verdict carries what was read for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar, cast

from scanloom.basis.fact import Fact, Known, merged
from scanloom.basis.source import Standing
from scanloom.basis.span import Span
from scanloom.basis.verdict import Amount, Judged, Patch, Settle, SourceNote, Verdict, Weight, judge
from scanloom.dossier.model import Rig
from scanloom.dossier.plan import Plan
from scanloom.handbook.sources import source

T = TypeVar("T")

RECALLED_MAY_STOP = frozenset(
    {
        "levels.pin-current",
        "levels.bank-current",
        "levels.chip-current",
        "lanes.pin-kind",
        "waking.boot-pin",
        "waking.back-fed",
    }
)
"""Codes that stop on a limit known only from memory: over-current and boot roles; all others then only caution."""


class Reading:
    """Notes every fact that is read through it; a fork starts with what its parent has read so far.

    Parameters
    ----------
    plan : Plan
        What there is to read.
    rig : Rig or None
        The rig that is judged.
    facts : iterable of Fact
        What has been read already.
    """

    def __init__(self, plan: Plan, rig: Rig | None = None, facts: Iterable[Fact] = ()) -> None:
        self.plan = plan
        self._rig = rig
        self._facts: list[Fact] = list(facts)

    @property
    def rig(self) -> Rig:
        """The rig that is judged.

        Raises
        ------
        ValueError
            If the reading is not for a rig.
        """
        if self._rig is None:
            raise ValueError("this reading is for no rig; a stage needs one; make the Reading with a rig")
        return self._rig

    @property
    def rig_name(self) -> str:
        """Name of the rig, empty for none."""
        return self._rig.name if self._rig else ""

    def __call__(self, known: Known[T]) -> T:
        """Value of something known, its facts noted.

        Parameters
        ----------
        known : Known
            A stated value, a handbook row or an earlier result.

        Returns
        -------
        T
            The value.
        """
        self._facts.extend(known.facts)
        return known.value

    def maybe(self, known: Known[T] | None) -> T | None:
        """Value of something that may be missing.

        Parameters
        ----------
        known : Known or None
            A stated value, or None.

        Returns
        -------
        T or None
            The value, or None when nothing is stated.
        """
        return None if known is None else self(known)

    def assume(self, key: str, value: T, text: str, why: str) -> T:
        """Take a default where nothing is stated; it counts as a guess.

        Parameters
        ----------
        key : str
            Place where the dossier could state it.
        value : T
            The default.
        text : str
            The default in words.
        why : str
            Why just that.

        Returns
        -------
        T
            The default.
        """
        self._facts.append(Fact(key, text, "guess", f"assumed: {why}"))
        return value

    def fork(self) -> Reading:
        """A reading that starts with what this one has read.

        Returns
        -------
        Reading
            Notes of its own from here on.
        """
        return Reading(self.plan, self._rig, self._facts)

    def known(self, value: T) -> Known[T]:
        """A result together with everything read for it.

        Parameters
        ----------
        value : T
            The result.

        Returns
        -------
        Known
            The result, resting on what was read.
        """
        return Known(value, merged(self._facts))

    @property
    def facts(self) -> tuple[Fact, ...]:
        """What has been read so far."""
        return merged(self._facts)

    def verdict(
        self,
        code: str,
        subject: str,
        weight: Weight,
        says: str | Mapping[Judged, str],
        *,
        found: Span | None = None,
        unit: str = "",
        low: float | None = None,
        high: float | None = None,
        target: float | None = None,
        state: Judged | None = None,
        limit: Known[Any] | None = None,
        settle: Settle | None = None,
        remedy: Iterable[Patch] = (),
    ) -> Verdict:
        """Judge what was found, resting on everything read so far.

        Parameters
        ----------
        code : str
            Slug ``stage.what``.
        subject : str
            Place in the dossier that is judged.
        weight : Weight
            What it means if it does not hold.
        says : str or Mapping
            The sentence, or one for each state.
        found : Span or None
            What was found; None when a fact is missing. [unit]
        unit : str
            Unit of found and limit.
        low : float or None
            Lowest value allowed. [unit]
        high : float or None
            Highest value allowed. [unit]
        target : float or None
            Value aimed at. [unit]
        state : Judged or None
            State of a check that is no comparison of numbers.
        limit : Known or None
            Handbook row that the limit is from.
        settle : Settle or None
            What would decide or tighten it.
        remedy : iterable of Patch
            Changes that would mend it; kept only when it does not hold.

        Returns
        -------
        Verdict
            Complete but for acceptance.

        Raises
        ------
        ValueError
            If neither a state nor a limit is given.
        """
        margin: float | None = None
        if state is None:
            state, margin = judge(found, low, high)
        sources: tuple[SourceNote, ...] = ()
        if limit is not None:
            self(limit)
            sources = tuple(_source_note(f) for f in limit.facts if f.source)
            if weight == "stop" and code not in RECALLED_MAY_STOP and _only_recalled(limit.facts):
                weight = "caution"
        bounded = low is not None or high is not None
        return Verdict(
            code=code,
            subject=subject,
            rig=self.rig_name,
            state=state,
            weight=weight,
            says=says if isinstance(says, str) else says[state],
            judged=state,
            found=Amount.found(found, unit) if found is not None else None,
            limit=Amount(low, target, high, unit) if bounded else None,
            margin=margin,
            rests_on=self.facts,
            settle=settle if state != "holds" or any(f.is_guess for f in self._facts) else None,
            remedy=tuple(remedy) if state != "holds" else (),
            sources=sources,
        )


def _source_note(fact: Fact) -> SourceNote:
    """Where a handbook row is printed."""
    try:
        title = source(fact.source).title
    except ValueError:  # a source that a maker's own chip file lists
        title = fact.source
    return SourceNote(title, fact.detail, cast(Standing, fact.origin))


def _only_recalled(facts: tuple[Fact, ...]) -> bool:
    """Whether the limit is known from memory alone."""
    printed = [f for f in facts if f.source]
    return bool(printed) and all(f.origin == "recalled" for f in printed)
