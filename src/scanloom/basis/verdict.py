"""Verdicts: what a check found, against which limit, resting on which facts."""

from __future__ import annotations

from typing import Literal

from scanloom.basis.fact import Fact
from scanloom.basis.record import record
from scanloom.basis.source import Standing
from scanloom.basis.span import Span

State = Literal["holds", "fails", "unknown", "accepted", "stale"]
Judged = Literal["holds", "fails", "unknown"]
Weight = Literal["stop", "caution", "note"]

TIGHT_MARGIN = 0.2
"""Below this margin a gauge says tight. [1]"""


@record
class Amount:
    """A found value or a limit: up to three numbers and their unit.

    Parameters
    ----------
    low : float or None
        Smallest value; for a limit, the lowest allowed. [unit]
    typical : float or None
        Value expected most often; for a limit, the target. [unit]
    high : float or None
        Largest value; for a limit, the highest allowed. [unit]
    unit : str
        Unit of the three.
    """

    low: float | None
    typical: float | None
    high: float | None
    unit: str

    @classmethod
    def found(cls, span: Span, unit: str) -> Amount:
        """Amount of a computed span.

        Parameters
        ----------
        span : Span
            The numbers. [unit]
        unit : str
            Their unit.

        Returns
        -------
        Amount
            The same three numbers with the unit. [unit]
        """
        return cls(span.low, span.typical, span.high, unit)


@record
class Place:
    """Where in a file something was seen.

    Parameters
    ----------
    file : str
        File name.
    layer : str
        Layer or role of the file.
    x_mm : float or None
        Position along the board. [mm]
    y_mm : float or None
        Position across the board. [mm]
    pin : str
        Reference designator and pin.
    """

    file: str
    layer: str = ""
    x_mm: float | None = None
    y_mm: float | None = None
    pin: str = ""


@record
class Settle:
    """The one measurement, or tighter part, that would decide a verdict or tighten it most.

    Parameters
    ----------
    what : str
        What to do, in one sentence.
    holds_if : str
        Reading expected when the check holds.
    fails_if : str
        Reading expected when it does not.
    minutes : float
        Time it takes. [min]
    fact : str
        Key of the fact that the reading replaces.
    """

    what: str
    holds_if: str = ""
    fails_if: str = ""
    minutes: float = 5.0
    fact: str = ""


@record
class Patch:
    """A change of the dossier that would mend a verdict.

    Parameters
    ----------
    key : str
        Place in the dossier.
    value : str
        New value as TOML text.
    says : str
        What the change does, in words.
    """

    key: str
    value: str
    says: str


@record
class SourceNote:
    """Where a limit comes from.

    Parameters
    ----------
    title : str
        Title of the source.
    place : str
        Clause, table or page.
    standing : Standing
        What kind of source it is.
    """

    title: str
    place: str
    standing: Standing


@record
class Verdict:
    """One check and its outcome; code, subject and rig identify it.

    Parameters
    ----------
    code : str
        Stable slug ``stage.what``.
    subject : str
        Place in the dossier that is judged.
    rig : str
        Rig it was judged for, empty for what no rig changes.
    state : State
        holds, fails, unknown; the survey adds accepted and stale.
    weight : Weight
        What it means if the check does not hold.
    says : str
        One sentence a maker understands.
    judged : Judged
        State before the maker's acceptance.
    found : Amount or None
        What was found. [unit]
    limit : Amount or None
        What is allowed. [unit]
    margin : float or None
        Room left as a share of the limit, worse end. [1]
    rests_on : tuple of Fact
        Facts used, collected while the stage read them.
    settle : Settle or None
        What would decide or tighten it.
    remedy : tuple of Patch
        Changes that would mend it.
    sources : tuple of SourceNote
        Where the limit comes from.
    place : Place or None
        Place in an outside file.
    because : str
        The maker's reason, when accepted.
    """

    code: str
    subject: str
    rig: str
    state: State
    weight: Weight
    says: str
    judged: Judged
    found: Amount | None = None
    limit: Amount | None = None
    margin: float | None = None
    rests_on: tuple[Fact, ...] = ()
    settle: Settle | None = None
    remedy: tuple[Patch, ...] = ()
    sources: tuple[SourceNote, ...] = ()
    place: Place | None = None
    because: str = ""

    @property
    def on_guess(self) -> bool:
        """Whether any fact it rests on is a guess."""
        return any(fact.is_guess for fact in self.rests_on)

    @property
    def is_open(self) -> bool:
        """Whether somebody still has to do something: it neither holds nor is accepted."""
        return self.state not in ("holds", "accepted")


def judge(found: Span | None, low: float | None, high: float | None) -> tuple[Judged, float | None]:
    """Hold a span against a limit.

    Parameters
    ----------
    found : Span or None
        What was found; None when a fact is missing. [unit]
    low : float or None
        Lowest value allowed. [unit]
    high : float or None
        Highest value allowed. [unit]

    Returns
    -------
    tuple
        holds when the whole span lies inside, fails when the typical value lies outside, else unknown; and the margin:
        (limit - found) / limit for one limit, smaller clearance / half width for a band, worse end. [1]

    Raises
    ------
    ValueError
        If there is no limit at all, or the band is upside down.
    """
    if low is None and high is None:
        raise ValueError("a judgement was asked for without a limit; give low, high or both")
    if low is not None and high is not None and low > high:
        raise ValueError(f"limit {low!r} to {high!r} runs downwards; give the smaller first")
    if found is None:
        return "unknown", None
    margin = _margin(found, low, high)
    inside = (low is None or found.low >= low) and (high is None or found.high <= high)
    if inside:
        return "holds", margin
    typical_outside = (low is not None and found.typical < low) or (high is not None and found.typical > high)
    return ("fails" if typical_outside else "unknown"), margin


def _margin(found: Span, low: float | None, high: float | None) -> float | None:
    """Room left at the worse end, as a share of the limit or of the band's half width."""
    if low is not None and high is not None:
        half = (high - low) / 2
        return min(found.low - low, high - found.high) / half if half else None
    if high is not None:
        return (high - found.high) / abs(high) if high else None
    assert low is not None
    return (found.low - low) / abs(low) if low else None
