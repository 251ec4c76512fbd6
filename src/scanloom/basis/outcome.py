"""What a stage returns: a result or none, and every verdict it made."""

from __future__ import annotations

from typing import Generic, TypeVar

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict

T = TypeVar("T")


@record
class Outcome(Generic[T]):
    """Result of one stage for one rig.

    Parameters
    ----------
    result : T or None
        What the stage computed; None when it could not.
    verdicts : tuple of Verdict
        Every check made, the passed ones too.
    """

    result: T | None
    verdicts: tuple[Verdict, ...]

    @property
    def stands(self) -> bool:
        """Whether later stages may build on it: a result, no stop that fails, no stop that is unknown."""
        return self.result is not None and not any(v.weight == "stop" and v.judged != "holds" for v in self.verdicts)
