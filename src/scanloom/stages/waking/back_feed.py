"""Verdicts on displays that push current into the board while it has no power of its own."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.fields import Pull
from scanloom.dossier.model import Display, SyncStage
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import buffer
from scanloom.handbook.limits import known_limit
from scanloom.handbook.sources import row_fact
from scanloom.stages.levels.network import Missing
from scanloom.stages.levels.shared import output_groups, sync_part, sync_stage
from scanloom.stages.waking.model import BackFeed
from scanloom.stages.waking.nets import Net
from scanloom.stages.waking.node import NONE, Strand, fed_current

Pullers = list[tuple[Display, Pull]]


def judge_back_feed(reading: Reading, net: Net, verdicts: list[Verdict]) -> BackFeed | None:
    """Current into the unpowered board through one sync, its rail taken to be dead at 0 V.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    net : Net
        The sync.
    verdicts : list of Verdict
        Where the verdict goes.

    Returns
    -------
    BackFeed or None
        None while the current is not known.
    """
    read = reading.fork()
    read(net.stated)
    pullers = _pullers(read)
    if not pullers:
        verdicts.append(
            read.verdict(
                "waking.back-fed", net.key, "stop", "No display is known to pull its sync inputs up, so nothing feeds the unpowered board.",
                state="holds",
                settle=Settle(
                    "With the board unplugged from its supply and all displays on, measure its supply rail to ground.",
                    "0 V", "anything above some tenths of a volt", 5, _least_sure(read),
                ),
            )
        )  # fmt: skip
        return BackFeed(net.key, Span.exact(0.0), Span.exact(0.0))
    try:
        found = _fed(read, net, pullers)
    except Missing as missing:
        says = missing.says[:1].lower() + missing.says[1:]
        verdicts.append(
            read.verdict(
                "waking.back-fed", net.key, "stop", f"How much current displays push into the unpowered board is not known: {says}.",
                state="unknown", settle=Settle(missing.measure, fact=missing.fact),
            )
        )  # fmt: skip
        return None
    verdicts.append(_verdict(read, net, pullers, found))
    return found


def _verdict(read: Reading, net: Net, pullers: Pullers, found: BackFeed) -> Verdict:
    """The current against what the clamp of a pin may take."""
    limit = known_limit("pin-clamp")
    names = ", ".join(display.name for display, _ in pullers)
    lift_v = found.lift_v.typical
    remedy = Patch(
        "levels.sync",
        '{ style = "buffered", buffer = "LVC", outputs = "one per display", branch = "47 ohm ± 5 %" }',
        "buffer the syncs with a family whose outputs let nothing back in without power",
    )
    return read.verdict(
        "waking.back-fed",
        net.key,
        "stop",
        {
            "holds": "What displays push into the unpowered board stays within what a pin's clamp may take.",
            "fails": f"The sync inputs of {names} push more into the unpowered board than a pin's clamp may take, and lift its dead rail "
            f"towards {lift_v:.1f} V: the chip half wakes, and may not start when its supply comes. Until it is mended, switch the board "
            "on before the displays and off after them.",
            "unknown": f"The sync inputs of {names} may push more into the unpowered board than a pin's clamp may take.",
        },
        found=found.fed_a,
        unit="A",
        high=limit.value.high,
        limit=limit,
        settle=Settle(
            "With the board unplugged from its supply and all displays on, measure the current from the supply rail to ground.",
            f"below {(limit.value.high or 0.0) * 1e3:.0f} mA", "above", 10, _least_sure(read),
        ),
        remedy=(remedy,),
    )  # fmt: skip


def _pullers(read: Reading) -> Pullers:
    """Displays whose sync inputs pull up; any of them may be plugged in anywhere, the syncs are shared."""
    made: Pullers = []
    for display in read.plan.displays.values():
        if display.sync_pull is None:
            read.assume(f"displays.{display.name}.sync_pull", None, "none", "most inputs load to ground only")
            continue
        pull = read(display.sync_pull)
        if pull is not None:
            made.append((display, pull))
    return made


def _least_sure(read: Reading) -> str:
    """Pull of the first display that nobody measured, else of the first."""
    displays = list(read.plan.displays.values())
    unsure = [d for d in displays if d.sync_pull is None or any(f.is_guess for f in d.sync_pull.facts)]
    return f"displays.{(unsure or displays)[0].name}.sync_pull" if displays else ""


def _fed(read: Reading, net: Net, pullers: Pullers) -> BackFeed:
    """Current into the dead rail and how far it lifts it."""
    stage, style = sync_stage(read)
    if style != "buffered":
        part = sync_part(read, stage, style) or NONE
        return BackFeed(net.key, *fed_current(_arms(read, stage, pullers), part, _clamp(read)))
    shut = _shut(read, stage)
    if shut is not None:
        return BackFeed(net.key, shut, Span.exact(0.0))
    clamp = _clamp(read)
    displays = tuple(read.plan.displays.values())
    groups = output_groups(read, stage, style, displays)
    if len(groups) > 1:
        for display, _ in pullers:
            read.maybe(display.group)
    part = read.maybe(stage.part) or NONE
    arms = dict(zip([display.name for display, _ in pullers], _arms(read, stage, pullers), strict=True))
    worst = (Span.exact(0.0), Span.exact(0.0))
    for members in groups:
        own = [arms[display.name] for display in members if display.name in arms]
        worst = max(worst, fed_current(own, part, clamp), key=lambda pair: pair[0].high)
    return BackFeed(net.key, *worst)


def _clamp(read: Reading) -> Span:
    """Drop of the clamp between a pin and its rail."""
    row = read(known_limit("clamp-drop"))
    assert row.low is not None and row.typical is not None and row.high is not None
    return Span(row.low, row.typical, row.high)


def _arms(read: Reading, stage: SyncStage, pullers: Pullers) -> list[Strand]:
    """Branch, load and pull of each display."""
    branch = read.maybe(stage.branch)
    made: list[Strand] = []
    for display, pull in pullers:
        if display.sync_load is None:
            raise Missing(
                f"the sync load of {display.name} is not known",
                f"displays.{display.name}.sync_load",
                f"Measure pin 13 to pin 10 of {display.name}'s plug with an ohmmeter, display off.",
            )
        made.append(Strand(branch or NONE, read(display.sync_load), pull.part_ohm, pull.to_v))
    return made


def _shut(read: Reading, stage: SyncStage) -> Span | None:
    """Leakage of an unpowered output whose family keeps it shut; None where a clamp leads to the rail."""
    if stage.buffer is None:
        raise Missing(
            "the logic family of the sync buffer is not stated", "levels.sync.buffer", "Read the marking of the buffer."
        )
    name = read(stage.buffer)
    try:
        row = buffer(name).off_current
    except ValueError as error:
        raise Missing(str(error), "levels.sync.buffer", "Choose one of them.") from None
    if row is None or row.typical is None or row.high is None:
        return None
    text = f"{row.typical:g} .. {row.high:g} {row.unit}"
    read(Known(None, (row_fact(f"handbook.buffers.{row.name}", text, row.source, row.place),)))
    return Span(0.0, row.typical, row.high)
