"""A starter dossier for a chosen plan: every fact a guess, with a list of what to measure, cheapest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.dossier.model import CHANNELS
from scanloom.dossier.plan import Plan
from scanloom.handbook.chip import Chip
from scanloom.stages.lanes.propose import propose_pins
from scanloom.stages.lanes.propose_answer import PinProposal
from scanloom.stages.lanes.propose_plan import wish_for
from scanloom.stages.memory import USUAL_KEEP_BACK_BYTES
from scanloom.survey.fit import FitRow
from scanloom.survey.wish import Wish, WishedGroup

TO_MEASURE = (
    (1, "each display's label", "line_rate and frame_rate: the rates printed on it or in its sheet"),
    (2, "each display's plug", "colour_load: ohmmeter from pin 1 to pin 6, display off; about 75 ohm"),
    (2, "each display's plug", "sync_load: ohmmeter from pin 13 to pin 10, display off"),
    (5, "the supply rail", "rail: multimeter on 3.3 V with the picture running"),
    (
        10,
        "three pins",
        "pin_high and pin_low: 100 ohm from a driven pin to ground, then to the rail; R = 100 (rail / reading - 1)",
    ),
    (15, "the firmware", "free: print its free blocks, largest first, just before the frame is allocated"),
    (60, "each display", "proved: an hour of a steady picture from a bench board"),
)
"""Minutes, where, and what: the cheapest first."""


@record
class StarterPins:
    """Pins for a starter: colours display by display, and the syncs.

    Parameters
    ----------
    colours : tuple of dict
        Pins by channel, one table a display, most significant first. [1]
    h : int
        Horizontal sync. [1]
    v : int
        Vertical sync. [1]
    lanes : tuple of str
        What each bit of the word carries, where the pins ask for another order than the usual one; else empty.
    """

    colours: tuple[dict[str, tuple[int, ...]], ...]
    h: int
    v: int
    lanes: tuple[str, ...] = ()


def display_names(wish: Wish) -> tuple[tuple[str, str, WishedGroup], ...]:
    """Names for the displays of a wish.

    Parameters
    ----------
    wish : Wish
        The wish.

    Returns
    -------
    tuple
        Display, its group, and what was wished for it.
    """
    made: list[tuple[str, str, WishedGroup]] = []
    seen: dict[str, int] = {}
    for group in wish.groups:
        base = group.colour
        seen[base] = seen.get(base, 0) + 1
        name = base if seen[base] == 1 else f"{base}-{seen[base]}"
        made.extend((f"{name}-display-{n}", f"{name}-displays", group) for n in range(1, group.count + 1))
    return tuple(made)


def write_starter(wish: Wish, chip_name: str, chip: Chip, row: FitRow, pins: StarterPins | None) -> str:
    """Text of a commented starter dossier.

    Parameters
    ----------
    wish : Wish
        The wish.
    chip_name : str
        Chip as the dossier will name it.
    chip : Chip
        Its record.
    row : FitRow
        The plan chosen.
    pins : StarterPins or None
        Pins for it; None leaves them out.

    Returns
    -------
    str
        TOML text in which every fact is a guess.
    """
    names = display_names(wish)
    state = next(s for s in chip.table.state if s.name == row.state)
    drive = next((d for d in chip.table.drive if d.at_reset), None)
    lines = [
        f"# A starter for: {wish.text}",
        "# Every fact below is a guess. Replace each by what you measured or read: the word after the semicolon tells which",
        "# (measured, sheet, standard, said, guess; for a decision: because). Then: scanloom check THIS-FILE",
        "#",
        "# To measure, the cheapest first:",
    ]
    lines += [f"#   {minutes:>2} min  {where}: {what}" for minutes, where, what in TO_MEASURE]
    lines += [
        "",
        "[dossier]",
        "format = 1",
        f'title = "{wish.text}"',
        "",
        "[chip]",
        f'like = "{_escaped(chip_name)}; guess"',
        f'keep_back = "{USUAL_KEEP_BACK_BYTES} B; guess"      # RAM kept in one piece for everything else',
        f'free.{state.name} = "{", ".join(map(str, state.free))} B; guess"',
    ]
    if drive is not None:
        high, low = drive.high, drive.low
        lines.append(f'pin_high = "{high.low:g} .. {high.typical:g} .. {high.high:g} ohm; guess"')
        lines.append(f'pin_low = "{low.low:g} .. {low.typical:g} .. {low.high:g} ohm; guess"')
    lines.append('rail = "3.3 V ± 5 %; guess"')
    for number, (name, group, _) in enumerate(names):
        lines += ["", "[[displays]]", f'name = "{name}"']
        if number and names[number - 1][1] == group:
            first = next(n for n, g, _ in names if g == group)
            lines.append(f'same_as = "{first}; guess"')
        else:
            lines += [
                f'group = "{group}"',
                'line_rate = "30 .. 50 kHz; guess"         # read its label',
                'frame_rate = "56 .. 75 Hz; guess"',
                'colour_load = "75 ohm ± 5 %; guess"       # ohmmeter, pin 1 to pin 6 of its plug',
                'sync_load = "1 .. 2.2 .. 4.7 kohm; guess" # ohmmeter, pin 13 to pin 10',
                'sync_pull = "none; guess"',
            ]
    lines += ["", "[supply]", 'inlet = "500 mA; guess"', 'regulator_rise = "110 K/W; guess"', 'air = "25 degC; guess"']
    sync = [f"sync = {{ h = {pins.h}, v = {pins.v} }}"] if pins else []
    lines += ["", "[board]", *sync, "connectors = [                  # left to right, plug side towards you"]
    for number, (name, _, _) in enumerate(names, 1):
        own = pins.colours[number - 1] if pins else {}
        wired = "".join(f", {channel} = {_pins(listed)}" for channel, listed in own.items())
        lines.append(f'  {{ name = "J{number}", plugs = "{name}"{wired} }},')
    lines += ["]", "", "[levels]"]
    lines += _levels(row, names)
    lines += ["", "[[rigs]]", 'name = "first"', f'firmware = "{row.state}; guess"', f'stream = "{row.stream}"']
    picture = f'picture = "{row.picture_px}x{row.picture_rows}"'
    lines.append(f'raster = {{ parent = "{row.parent}", divide = {row.divide}, repeat = {row.repeat}, {picture} }}')
    lines.append(f"depth = {{ {_depth(wish, row, names)} }}")
    if pins is not None and pins.lanes:
        listed = ", ".join(f'"{lane}"' for lane in pins.lanes)
        lines.append(f"lanes = [{listed}]   # from bit 0, in the order of the pins")
    return "\n".join(lines) + "\n"


def _levels(row: FitRow, names: Sequence[tuple[str, str, WishedGroup]]) -> list[str]:
    """Colour and sync stages that suit the depths; groups of another depth get a stage of their own."""
    groups = tuple(dict.fromkeys(group for _, group, _ in names))
    parts = {1: "240 ohm ± 1 %; guess", 2: "390, 820 ohm ± 1 %; guess", 3: "464, 953, 1910 ohm ± 1 %; guess"}

    def stage(bits: int) -> str:
        if bits in parts:
            return f'{{ style = "{"series" if bits == 1 else "weighted"}", part = "{parts[bits]}" }}'
        return '{ style = "weighted" }'

    lines = [f"colour = {stage(row.depth[0])}"]
    lines += [
        f"groups.{group} = {stage(bits)}" for group, bits in zip(groups, row.depth, strict=True) if bits != row.depth[0]
    ]
    lines.append(
        'sync = { style = "buffered", buffer = "LVC; guess", outputs = "one per display", branch = "47 ohm ± 5 %; guess" }'
    )
    return lines


def _depth(wish: Wish, row: FitRow, names: Sequence[tuple[str, str, WishedGroup]]) -> str:
    """Depths by group."""
    groups = tuple(dict.fromkeys(group for _, group, _ in names))
    parts = []
    for group, wished, bits in zip(groups, wish.groups, row.depth, strict=True):
        parts.append(f"{group} = {{ {', '.join(f'{channel} = {bits}' for channel in wished.channels)} }}")
    return ", ".join(parts)


def _escaped(text: str) -> str:
    """Text for a TOML basic string: a path may hold backslashes."""
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _pins(pins: tuple[int, ...]) -> str:
    """One pin, or a list."""
    return str(pins[0]) if len(pins) == 1 else f"[{', '.join(map(str, pins))}]"


def starter_pins(plan: Plan) -> tuple[StarterPins | None, str]:
    """Pins proposed for a starter that states none.

    Parameters
    ----------
    plan : Plan
        The starter without pins.

    Returns
    -------
    tuple
        The pins, or None and why there are none.
    """
    try:
        asked = wish_for(plan)
        if asked.notes:  # a starter states everything, so a note tells of a word that cannot leave the chip at all
            return None, " ".join(asked.notes)
        # buffers stand in the starter as a guess: if there are any, syncs get pins that would do without one as well
        proposal = propose_pins(replace(asked, syncs=tuple(replace(sync, hangs="direct") for sync in asked.syncs)))
        if not isinstance(proposal, PinProposal):
            proposal = propose_pins(asked)
    except ValueError as error:
        return None, str(error)
    if not isinstance(proposal, PinProposal):
        return None, " ".join(proposal.says)
    by_lane: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for given in proposal.given:
        bit = int(given.lane.rsplit(".", 1)[1]) if given.lane.count(".") == 2 else 0
        by_lane.setdefault((given.connector, given.channel), []).append((bit, given.pin))
    colours: list[dict[str, tuple[int, ...]]] = []
    for connector in plan.connectors:
        own: dict[str, tuple[int, ...]] = {}
        for channel in CHANNELS:
            listed = sorted(by_lane.get((connector.name, channel), ()), reverse=True)
            if listed:
                own[channel] = tuple(pin for _, pin in listed)
        colours.append(own)
    syncs = {channel: listed[0][1] for (connector, channel), listed in by_lane.items() if not connector}
    lanes = next((order.lanes for order in proposal.orders if order.changed), ())
    return StarterPins(tuple(colours), syncs["h"], syncs["v"], lanes), ""
