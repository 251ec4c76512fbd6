"""Verdicts on packages of colour buffers: what all outputs of one carry together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.model import ColourStage
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import Buffer
from scanloom.handbook.sources import row_fact
from scanloom.stages.levels.buffers import BufferCount, buffer_count
from scanloom.stages.levels.network import colour_stage
from scanloom.stages.levels.result import ChannelLevels


@dataclass(slots=True)
class _Stage:
    """Channels that one colour stage of the dossier puts on buffers."""

    key: str
    stage: ColourStage
    family: Buffer
    read: Reading
    outputs: int = 0
    worst: list[Span] = field(default_factory=list)


def judge_packages(
    reading: Reading, channels: Sequence[Known[ChannelLevels]], verdicts: list[Verdict]
) -> tuple[BufferCount, ...]:
    """Packages that the buffered channels take, and what each carries.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    channels : sequence of Known
        Channels whose levels are known.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    tuple of BufferCount
        One for each colour stage with buffers, in the order of the board.
    """
    made: list[BufferCount] = []
    for one in _stages(reading, channels):
        read = one.read
        packages = read.maybe(one.stage.packages)
        worst = max(one.worst, key=lambda span: span.high)
        count = buffer_count(one.family, worst, one.outputs, packages)
        if packages is None:
            read.assume(
                f"{one.key}.packages",
                count.packages,
                str(count.packages),
                "as many as carry it, the outputs spread evenly",
            )
        made.append(count)
        verdicts.append(_verdict(read, one, count, worst))
    return tuple(made)


def _stages(reading: Reading, channels: Sequence[Known[ChannelLevels]]) -> list[_Stage]:
    """Channels behind buffers, by the colour stage that they belong to."""
    found: dict[str, _Stage] = {}
    for known in channels:
        wiring = known.value.wiring
        if wiring.buffer is None:
            continue
        stage, key = colour_stage(reading.fork(), reading.plan.displays[known.value.display])
        assert stage is not None
        one = found.setdefault(key, _Stage(key, stage, wiring.buffer, reading.fork()))
        one.read(known)
        one.outputs += wiring.network.bits
        one.worst.append(known.value.output_a)
    return list(found.values())


def _verdict(read: Reading, one: _Stage, count: BufferCount, worst: Span) -> Verdict:
    """Current of the fullest package against its absolute limit."""
    row = one.family.package_current
    assert row.high is not None
    limit = Known(row, (row_fact(f"handbook.buffers.{row.name}", f"{row.high:g} {row.unit}", row.source, row.place),))
    outputs = f"{count.outputs} output{'s' if count.outputs > 1 else ''}"
    many = f"{outputs} on {count.packages} package{'s' if count.packages > 1 else ''} of {count.family}"
    room = -(-count.outputs // count.packages)
    crowded = room > one.family.outputs
    least = buffer_count(one.family, worst, one.outputs).packages
    return read.verdict(
        "levels.buffer-package",
        one.key,
        "caution",
        f"{many}: a package has {one.family.outputs} outputs, so {room} find no room."
        if crowded
        else {
            "holds": f"{many}: no package carries more than it may, all its outputs at white.",
            "fails": f"{many}: a package carries more than it may, all its outputs at white.",
            "unknown": f"{many}: a package may carry more than it may, all its outputs at white.",
        },
        found=count.package_a,
        unit="A",
        high=row.high,
        state="fails" if crowded else None,
        limit=limit,
        settle=Settle("Count the packages on the parts list.", minutes=2, fact=f"{one.key}.packages"),
        remedy=(Patch(f"{one.key}.packages", str(least), f"spread the outputs over {least} packages"),)
        if least > count.packages
        else (),
    )
