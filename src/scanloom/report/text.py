"""A survey as text for a terminal: what is open first, then each rig, then the counts."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from scanloom.basis.record import record
from scanloom.basis.verdict import TIGHT_MARGIN, State, Verdict
from scanloom.report import figures
from scanloom.report.closing import closing
from scanloom.report.stage_lines import stage_lines
from scanloom.survey import RigSurvey, Survey, Trial

_STYLES: dict[State, str] = {
    "holds": "green",
    "fails": "bold red",
    "unknown": "yellow",
    "accepted": "default",
    "stale": "yellow",
}
_ORDER: dict[State, int] = {"fails": 0, "stale": 1, "unknown": 2, "accepted": 3, "holds": 4}
NOTHING_BESIDE: Mapping[tuple[str, str], str] = MappingProxyType({})
"""No verdict has a further line."""
_WEIGHTS = {"stop": 0, "caution": 1, "note": 2}


@record
class _Shared:
    """One verdict, said alike of several subjects or rigs."""

    verdict: Verdict
    rigs: tuple[str, ...]
    others: tuple[str, ...]


def print_check(
    console: Console, title: str, file: str, survey: Survey, *, strict: bool, every: bool, trial: Trial | None,
    beside: Mapping[tuple[str, str], str] = NOTHING_BESIDE,
) -> None:  # fmt: skip
    """Print a survey.

    Parameters
    ----------
    console : Console
        Where to.
    title : str
        Title of the dossier, perhaps empty.
    file : str
        Its file.
    survey : Survey
        The survey.
    strict : bool
        Whether a stop that holds on a guess counts as unknown.
    every : bool
        Whether checks that hold are listed too.
    trial : Trial or None
        A tried change whose effect is shown first.
    beside : Mapping
        A further line for a verdict, by its code and subject.
    """
    console.print(Text(f"{title}  ({file})" if title else file, style="bold"))
    if trial is not None:
        console.print(_trial(trial))
    shown = [v for v in survey.verdicts if every or v.state != "holds" or survey.blocks(v, strict=strict)]
    shared = _shared(shown, beside)
    notes = [s for s in shared if s.verdict.weight == "note" and s.verdict.is_open and not every]
    for one in shared:
        if one not in notes:
            console.print(Padding(_card(one, survey, strict, beside), (1, 0, 0, 0)))
    for rig in survey.rigs:
        console.print(Padding(_rig(rig, survey), (1, 0, 0, 0)))
    if notes:
        console.print(Padding(_notes(notes), (1, 0, 0, 0)))
    console.print()
    hint = _try_hint(survey, file) if trial is None else ""
    if hint:
        console.print(hint, highlight=False, soft_wrap=True)  # whole, so that it can be copied
    for line in closing(survey, strict=strict):
        console.print(line, highlight=False)


def _try_hint(survey: Survey, file: str) -> str:
    """How to try the first remedy without writing anything."""
    for verdict in survey.verdicts:
        if verdict.is_open and verdict.remedy:
            patch = verdict.remedy[0]
            return f"To see what a change would do: scanloom check {shlex.quote(file)} --try {shlex.quote(f'{patch.key}={patch.value}')}"
    return ""


def _shared(verdicts: Sequence[Verdict], beside: Mapping[tuple[str, str], str] = NOTHING_BESIDE) -> list[_Shared]:
    """Verdicts with the same code, state and numbers made one; open ones first, stops before cautions."""
    groups: dict[tuple[object, ...], list[Verdict]] = {}
    for v in verdicts:
        own = v.subject.split(".")[1] if "." in v.subject else v.subject
        alike = v.says.replace(own, "*") if v.found is None else v.limit
        groups.setdefault(
            (v.code, v.state, v.weight, v.found, alike, v.because, beside.get((v.code, v.subject))), []
        ).append(v)
    made: list[_Shared] = []
    for vs in groups.values():
        rigs = tuple(dict.fromkeys(v.rig for v in vs if v.rig))
        others = tuple(dict.fromkeys(v.subject for v in vs if v.subject != vs[0].subject))
        made.append(_Shared(vs[0], rigs, others))
    return sorted(made, key=lambda s: (s.verdict.weight == "note", _ORDER[s.verdict.state], _WEIGHTS[s.verdict.weight]))


def _card(
    one: _Shared, survey: Survey, strict: bool, beside: Mapping[tuple[str, str], str] = NOTHING_BESIDE
) -> RenderableType:
    """One verdict with numbers, grounds and ways out."""
    v = one.verdict
    head = Text()
    head.append(f"{v.state:<9}", _STYLES[v.state])
    head.append(f"{v.weight:<8}", "bold" if survey.blocks(v, strict=strict) else "")
    head.append(f"{v.code}  ", "bold")
    head.append(v.subject)
    if one.rigs and len(one.rigs) < len(survey.rigs):
        head.append(f"  (rig {', '.join(one.rigs)})")
    lines = [Text(v.says)]
    if one.others:
        lines.append(Text(f"the same for {', '.join(one.others)}"))
    if v.found is not None and v.limit is not None:
        tight = ", tight" if figures.is_tight(v, TIGHT_MARGIN) else ""
        lines.append(Text(f"found {figures.amount(v.found)}; limit {figures.limit(v.limit)}{tight}"))
    if (v.code, v.subject) in beside:
        lines.append(Text(beside[v.code, v.subject]))
    if v.because:
        lines.append(Text(f"accepted because {v.because}"))
    if v.state != "holds":
        lines.extend(_ways(v))
        lines.extend(_cures(v, survey))
    elif v.on_guess:
        lines.append(Text("on a guess: " + ", ".join(f.key for f in v.rests_on if f.is_guess), style="dim"))
    return Group(head, *(Padding(line, (0, 0, 0, 9)) for line in lines))


def _cures(v: Verdict, survey: Survey) -> Iterable[Text]:
    """Further ways out of a frame that does not fit, which no patch of the dossier can make."""
    if v.code != "memory.blocks":
        return
    for rig in survey.rigs:
        if rig.name == v.rig and rig.memory is not None and rig.memory.placement is not None:
            offered = {change.what for change in rig.memory.changes}
            for cure in rig.memory.cures:
                if cure.what not in offered:
                    word = "or" if cure.fits else "would not do:"
                    yield Text(f"{word} {cure.what}: {cure.used_bytes} B; {cure.cost}")


def _ways(v: Verdict) -> Iterable[Text]:
    """Grounds, measurement and remedies of a verdict that does not hold."""
    guesses = [f for f in v.rests_on if f.is_guess]
    if guesses:
        yield Text(
            "rests on a guess: " + ", ".join(f"{f.key} = {f.text}" if len(f.text) < 40 else f.key for f in guesses[:4])
        )
    if v.settle is not None and v.state != "accepted":
        expect = (
            f" Holds if: {v.settle.holds_if}. Else: {v.settle.fails_if}."
            if v.settle.holds_if and v.settle.fails_if
            else ""
        )
        yield Text(f"settle ({v.settle.minutes:g} min): {v.settle.what}{expect}")
    if v.state != "accepted":
        for patch in v.remedy[:3]:
            yield Text(f"or {patch.says}:\n  {patch.key} = {patch.value}")
    if v.sources:
        yield Text("limit from: " + "; ".join(f"{s.title}, {s.place} ({s.standing})" for s in v.sources), style="dim")


def _rig(rig: RigSurvey, survey: Survey) -> RenderableType:
    """One rig, a line a stage."""
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, expand=False, padding=(0, 2, 0, 0))
    table.add_column("stage", no_wrap=True)
    table.add_column("result", ratio=1)
    table.add_column("checks", no_wrap=True)
    for stage, words in stage_lines(rig):
        mine = [v for v in survey.verdicts if v.rig == rig.name and v.code.startswith(f"{stage}.")]
        table.add_row(stage, words, _counts(mine))
    return Group(Text(f"Rig {rig.name}", style="bold"), table)


def _counts(verdicts: Sequence[Verdict]) -> Text:
    """How many checks are in each state."""
    text = Text()
    for state in sorted(_STYLES, key=lambda s: _ORDER[s]):
        count = sum(v.state == state for v in verdicts)
        if count:
            text.append(", " if text else "")
            text.append(
                f"{count} {'hold' if state == 'holds' and count != 1 else 'fail' if state == 'fails' and count != 1 else state}",
                _STYLES[state] if state != "holds" else "",
            )
    return text or Text("none")


def _notes(notes: Sequence[_Shared]) -> RenderableType:
    """Open notes, a line each: they never count."""
    lines = [Text("Notes, which never count", style="bold")]
    said = dict.fromkeys(f"{s.verdict.code}  {s.verdict.says}" for s in notes)
    return Group(*lines, *(Text(text) for text in said))


def _trial(trial: Trial) -> RenderableType:
    """What a tried change mends and breaks; checks that only move are counted by code."""
    lines: list[Text] = []
    for words, style, changes in (("would mend", "green", trial.mended), ("would break", "bold red", trial.broken)):
        for change in changes:
            one = change.after or change.before
            assert one is not None
            rig = f" (rig {one.rig})" if one.rig else ""
            found = f"; found {figures.amount(one.found)}" if change.after and one.found else ""
            head = Text(words, style=style)
            head.append(
                f"  {one.code}  {one.subject}{rig}: {_state(change.before)} -> {_state(change.after)}{found}", "default"
            )
            lines.append(head)
    moves = Counter(
        f"{(c.after or c.before).code} {_state(c.before)} -> {_state(c.after)}"  # type: ignore[union-attr]
        for c in trial.moved
    )
    if moves:
        lines.append(Text("would change  " + "; ".join(f"{text} ({n})" for text, n in moves.items())))
    return Group(*(lines or [Text("The change moves no check.")]))


def _state(verdict: Verdict | None) -> str:
    """State of a check, or that it is not made."""
    return verdict.state if verdict is not None else "not made"
