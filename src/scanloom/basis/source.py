"""Sources: where the handbook's figures are printed, and how far a source may be leant on."""

from __future__ import annotations

from typing import Literal, get_args

from scanloom.basis.record import record

Standing = Literal["standard", "datasheet", "handbook", "measured", "derived", "common practice", "recalled"]

STANDINGS: tuple[Standing, ...] = get_args(Standing)
FACTS: frozenset[Standing] = frozenset({"standard", "datasheet", "measured"})
"""Standings whose rows count as facts; every other row is a guess."""


@record
class Source:
    """One source of handbook rows.

    Parameters
    ----------
    key : str
        Short name that rows refer to.
    title : str
        Title, as a reader would ask for it.
    edition : str
        Version, revision or date of the source, and through what copy it reached the handbook.
    standing : Standing
        What kind of source it is.
    read : str
        Date on which it was last read, year-month-day; empty when it was not read for this handbook.

    Raises
    ------
    ValueError
        If the standing is none of the seven, or a recalled source claims to have been read.
    """

    key: str
    title: str
    edition: str
    standing: Standing
    read: str

    def __post_init__(self) -> None:
        """Refuse a standing that nobody defined, and a memory with a reading date."""
        if self.standing not in STANDINGS:
            raise ValueError(
                f"source {self.key}: standing {self.standing!r} is not known; "
                f"{', '.join(STANDINGS)} are allowed; choose one"
            )
        if self.standing == "recalled" and self.read:
            raise ValueError(
                f"source {self.key}: recalled, yet read {self.read}; a recalled source has no date; "
                "clear the date or give the standing of what was read"
            )

    @property
    def is_fact(self) -> bool:
        """Whether its rows count as facts."""
        return self.standing in FACTS
