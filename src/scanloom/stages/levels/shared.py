"""Verdicts on the syncs that all displays share, in the steady state."""

from __future__ import annotations

from collections.abc import Mapping

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.model import Display, SyncStage
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import buffer
from scanloom.handbook.limits import known_limit
from scanloom.handbook.sources import row_fact
from scanloom.stages.levels.edges import judge_edges
from scanloom.stages.levels.network import Missing, buffer_driver, pin_driver, sync_input
from scanloom.stages.levels.result import SyncLevel
from scanloom.stages.levels.sync import SharedSync, sync_levels

BUILT_SYNC_STYLES = ("direct", "series", "buffered")
OUTPUTS = ("one", "one per group", "one per display")


def judge_syncs(
    reading: Reading, displays: tuple[Display, ...], plugs: Mapping[str, Known[str]], verdicts: list[Verdict]
) -> tuple[tuple[SyncLevel, ...], Known[tuple[Span, Span]] | None]:
    """Sync levels at every display.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    displays : tuple of Display
        Displays that are plugged in.
    plugs : Mapping
        For each, the connector's statement that it is.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    tuple
        Levels by display; and what one sync draws from the chip's pin and from the rail in all, None when unknown. [A]
    """
    read = reading.fork()
    try:
        stage, style = sync_stage(read)
        groups = output_groups(read, stage, style, displays)
    except Missing as missing:
        for display in displays:
            verdicts.extend(_unknown(read.fork(), display, missing))
        return (), None
    made: list[SyncLevel] = []
    pin_a, rail_a = Span.exact(0.0), Span.exact(0.0)
    known = True
    total = read.fork()
    for members in groups:
        own = read.fork()
        for display in members:  # who shares an output rests on its members' plugs and groups alone
            own(plugs[display.name])
            if len(groups) > 1:
                own.maybe(display.group)
        try:
            shared = shared_sync(own, stage, style, members)
        except Missing as missing:
            known = False
            for display in members:
                verdicts.extend(_unknown(own.fork(), display, missing))
            continue
        found = sync_levels(shared)
        for display, high, low in zip(members, found.high_v, found.low_v, strict=True):
            made.append(SyncLevel(display.name, high, low))
            verdicts.extend(_levels(own, display, high, low, stage, style, len(members)))
        verdicts.extend(judge_edges(own.fork(), shared, members, _edge_remedy(stage, style)))
        if style == "buffered":
            verdicts.append(_output(own.fork(), stage, members, found.driver_high_a))
        sourced = _positive(found.driver_high_a)
        rail_a = _sum(rail_a, sourced)
        pin_a = pin_a if style == "buffered" else _sum(pin_a, sourced)
        total(own.known(None))
    return tuple(made), total.known((pin_a, rail_a)) if known else None


def sync_stage(read: Reading) -> tuple[SyncStage, str]:
    """Sync stage and its style.

    Parameters
    ----------
    read : Reading
        Notes the style.

    Returns
    -------
    tuple
        The stage and its style, one of those that are judged.

    Raises
    ------
    Missing
        If the style is not stated, or not judged.
    """
    levels = read.plan.dossier.levels
    stage = levels.sync if levels else None
    if stage is None or stage.style is None:
        raise Missing(
            "How the syncs are driven is not stated", "levels.sync", "State style and parts of the sync stage."
        )
    style = read(stage.style)
    if style not in BUILT_SYNC_STYLES:
        raise Missing(
            f"A sync stage of style {style!r} is not judged by this version; {', '.join(BUILT_SYNC_STYLES)} are",
            "levels.sync.style", "Use a style that is judged.",
        )  # fmt: skip
    return stage, style


def output_groups(
    read: Reading, stage: SyncStage, style: str, displays: tuple[Display, ...]
) -> list[tuple[Display, ...]]:
    """Displays that hang on one output.

    Parameters
    ----------
    read : Reading
        Notes how outputs are shared; the groups of the displays are for the caller to read.
    stage : SyncStage
        The sync stage.
    style : str
        Its style.
    displays : tuple of Display
        The displays.

    Returns
    -------
    list of tuple
        Displays of each output.

    Raises
    ------
    Missing
        If outputs are shared in no way that is known.
    """
    if style != "buffered":
        return [displays] if displays else []
    if stage.outputs is None:
        outputs = read.assume("levels.sync.outputs", "one", "one", "a single output feeds all, the hardest case")
    else:
        outputs = read(stage.outputs)
    if outputs not in OUTPUTS:
        raise Missing(
            f"{outputs!r} is no way to share outputs; {', '.join(OUTPUTS)} are",
            "levels.sync.outputs",
            "Choose one of them.",
            wrong=True,
        )
    if outputs == "one":
        return [displays] if displays else []
    if outputs == "one per display":
        return [(d,) for d in displays]
    by_group: dict[str, list[Display]] = {}
    for display in displays:
        by_group.setdefault(display.group.value if display.group else display.name, []).append(display)
    return [tuple(members) for members in by_group.values()]


def shared_sync(read: Reading, stage: SyncStage, style: str, members: tuple[Display, ...]) -> SharedSync:
    """Driver, parts and inputs of one output.

    Parameters
    ----------
    read : Reading
        Notes what is read.
    stage : SyncStage
        The sync stage.
    style : str
        Its style.
    members : tuple of Display
        Displays of the output.

    Returns
    -------
    SharedSync
        The output.

    Raises
    ------
    Missing
        If a fact is not stated.
    """
    if style == "buffered":
        if stage.buffer is None:
            raise Missing(
                "The logic family of the sync buffer is not stated",
                "levels.sync.buffer",
                "Read the marking of the buffer.",
            )
        driver = buffer_driver(read, stage.buffer)
    else:
        driver = pin_driver(read)
    series = sync_part(read, stage, style)
    branch = read.maybe(stage.branch)
    inputs = tuple(sync_input(read, display, branch) for display in members)
    return SharedSync(driver.high_ohm, driver.low_ohm, driver.rail_v, inputs, series)


def sync_part(read: Reading, stage: SyncStage, style: str) -> Span | None:
    """Part between the driver of a sync and the point that its displays share.

    Parameters
    ----------
    read : Reading
        Notes the part.
    stage : SyncStage
        The sync stage.
    style : str
        Its style.

    Returns
    -------
    Span or None
        The part; None without one. [ohm]

    Raises
    ------
    Missing
        If the style wants one and none is stated.
    """
    if style == "series" and stage.part is None:
        raise Missing("The sync resistor is not stated", "levels.sync.part", "Read the parts list, or measure it.")
    return read.maybe(stage.part)


def _levels(
    read: Reading, display: Display, high: Span, low: Span, stage: SyncStage, style: str, members: int
) -> tuple[Verdict, Verdict]:
    """Both levels at one display against what its receiver takes for high and low."""
    subject = f"displays.{display.name}.sync"
    among = f" among {members} displays on one output" if members > 1 else ""
    settle = Settle(
        f"Measure pin 13 to pin 10 of {display.name}'s plug with an ohmmeter, display off.", minutes=2,
        holds_if="the load stated, or more", fails_if="less", fact=f"displays.{display.name}.sync_load",
    )  # fmt: skip
    remedy = _remedy(stage, style)
    upper, lower = known_limit("sync-in-high"), known_limit("sync-in-low")
    return (
        read.fork().verdict(
            "levels.sync-high", subject, "stop",
            {
                "holds": f"{display.name} reads a high sync as high{among}.",
                "fails": f"{display.name} does not read a high sync as high{among}: no picture.",
                "unknown": f"{display.name} may not read a high sync as high{among}.",
            },
            found=high, unit="V", low=upper.value.low, limit=upper, settle=settle, remedy=remedy,
        ),
        read.fork().verdict(
            "levels.sync-low", subject, "stop",
            {
                "holds": f"{display.name} reads a low sync as low.",
                "fails": f"{display.name} does not read a low sync as low: something pulls it up.",
                "unknown": f"{display.name} may not read a low sync as low.",
            },
            found=low, unit="V", high=lower.value.high, limit=lower, settle=settle, remedy=remedy,
        ),
    )  # fmt: skip


def _remedy(stage: SyncStage, style: str) -> tuple[Patch, ...]:
    """An output of its own for each display, where it has none yet."""
    if style == "buffered" and not (stage.outputs and stage.outputs.value != "one per display"):
        return ()
    return (
        Patch(
            "levels.sync",
            '{ style = "buffered", buffer = "LVC", outputs = "one per display", branch = "47 ohm ± 5 %" }',
            "buffer the syncs, one output per display",
        ),
    )


def _edge_remedy(stage: SyncStage, style: str) -> tuple[Patch, ...]:
    """A branch part where a buffer's output has none, which takes up what comes back; and outputs apart."""
    fitted = (
        (Patch("levels.sync.branch", '"47 ohm ± 5 %"', "fit 47 ohm 5 % in each display's branch of the syncs"),)
        if style == "buffered" and stage.branch is None
        else ()
    )
    return (*fitted, *_remedy(stage, style))


def _output(read: Reading, stage: SyncStage, members: tuple[Display, ...], current: Span) -> Verdict:
    """Current of one buffer output against its rating."""
    assert stage.buffer is not None
    row = buffer(stage.buffer.value).output_current
    rated = row.high if row.typical is None else row.typical  # some sheets give the absolute most alone
    limit = Known(row, (row_fact(f"handbook.buffers.{row.name}", f"{rated:g} {row.unit}", row.source, row.place),))
    names = ", ".join(d.name for d in members)
    return read.verdict(
        "levels.buffer-current",
        f"displays.{members[0].name}.sync",
        "caution",
        {
            "holds": f"The buffer output for {names} stays within its rating.",
            "fails": f"The buffer output for {names} is overloaded: give each display an output of its own.",
            "unknown": f"The buffer output for {names} may be overloaded.",
        },
        found=_positive(current),
        unit="A",
        high=rated,
        limit=limit,
    )


def _unknown(read: Reading, display: Display, missing: Missing) -> tuple[Verdict, Verdict]:
    """Both levels of a display while a fact is missing."""
    subject = f"displays.{display.name}.sync"
    settle = Settle(missing.measure, minutes=5, fact=missing.fact)
    state = "fails" if missing.wrong else "unknown"
    high = read.verdict("levels.sync-high", subject, "stop", missing.says + ".", state=state, settle=settle)  # type: ignore[arg-type]
    low = read.verdict("levels.sync-low", subject, "stop", missing.says + ".", state=state, settle=settle)  # type: ignore[arg-type]
    return high, low


def _positive(span: Span) -> Span:
    """What is sourced; current pushed back by pull-ups draws nothing from the rail."""
    return Span(max(span.low, 0.0), max(span.typical, 0.0), max(span.high, 0.0))


def _sum(first: Span, second: Span) -> Span:
    """Sum of two independent spans."""
    return Span(first.low + second.low, first.typical + second.typical, first.high + second.high)
