"""The last lines of a survey: what to do, how many checks there are, how many hold on a guess."""

from __future__ import annotations

from scanloom.survey import Survey


def closing(survey: Survey, *, strict: bool) -> tuple[str, str, str]:
    """The last lines: what to do, how many checks there are, and how many hold only on a guess.

    Parameters
    ----------
    survey : Survey
        The survey.
    strict : bool
        Whether a stop that holds on a guess counts as unknown.

    Returns
    -------
    tuple of str
        Three sentences; the very last always says how many hold only on a guess.
    """
    blocking = survey.blocking(strict=strict)
    if not blocking:
        first = "Nothing keeps this plan from being ready."
    else:
        stops = sum(v.weight == "stop" for v in blocking)
        cautions = len(blocking) - stops
        parts = [_plural(n, word) for n, word in ((stops, "stop"), (cautions, "caution")) if n]
        first = f"Not ready: {' and '.join(parts)} to settle."
    states = (
        ("holds", "hold"),
        ("fails", "fail"),
        ("unknown", "unknown"),
        ("stale", "stale"),
        ("accepted", "accepted"),
    )
    counts = [f"{survey.count(state)} {word}" for state, word in states if survey.count(state)]
    total = survey.count(*(state for state, _ in states))
    return (
        first,
        f"{_plural(total, 'check')}: {', '.join(counts)}.",
        _on_guess(survey),
    )


def _on_guess(survey: Survey) -> str:
    """The very last line, with a warning while nobody has measured anything."""
    holding, guessed = len(survey.holding), len(survey.on_guess)
    if any(fact.origin == "measured" for verdict in survey.verdicts for fact in verdict.rests_on):
        return f"Of the {holding} that hold, {guessed} hold only on a guess."
    return f"{guessed} of {holding} hold only on a guess; nothing rests on a measurement: do not order yet."


def _plural(count: int, word: str) -> str:
    """A count with its noun."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
