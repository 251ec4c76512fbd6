"""Random single mutations of the good set, each with a record of whether it changes the truth and where.

Electrical truth is what the copper joins, which pin is on which net, and the values; mechanical truth is where holes,
edge and parts are. A legend turned about changes neither, nor do two ends of a resistor.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import hypot

from demo_board import sets, tables, truth
from demo_board.board import POURED_PINS, board_of
from demo_board.circuit import renetted
from demo_board.nouns import NO_NET, Board, Part, Track
from demo_board.planting import ROUTED, TABLES, Made, Where, only
from demo_board.sets import Files

COUNT, SEED = 200, 2031
FLIPPABLE = (*(role for role in sets.LAYERS if role != "bottom-paste"), "plated", "unplated", "netlist", "centroid")
LEGENDS = {"top-legend", "bottom-legend"}
COSMETIC = {*LEGENDS, "bottom-paste"}  # there is nothing on the bottom paste
ALIKE = (
    ("U3", {"3", "6"}), ("U3", {"8", "11"}),  # outputs fed by one sync
    ("J8", {"1", "2"}), ("J9", {"1", "2"}),  # links
    ("J7", {"A5", "B5"}),  # two pulls of one value
)  # fmt: skip
SAME_STRAPS = ({"boot-5", "boot-15"}, {"boot-2", "boot-12"})
WRONG_VALUES = {"240": ("24", "2k4", "270", "470"), "47": ("470", "4k7"), "5k1": ("51k", "510", "10k")}
NEAR_VALUES = {
    "10k": ("8k2", "12k"),
    "5k1": ("5k6",),
    "100n": ("220n",),
    "10u": ("22u",),
    "1u": ("2u2",),
    "1k": ("1k5",),
}
VALUE_CODES = {
    "240": ("board.lane-level",),
    "47": ("board.lane-level", "board.sync-path"),
    "5k1": ("board.inlet-pulls",),
}


@dataclass(frozen=True, slots=True)
class Mutation:
    """One mutation of the good set: what was done, whether it changes the truth, where, and codes that may say so."""

    number: int
    kind: str
    done: str
    changes_truth: bool
    where: tuple[Where, ...]
    codes: tuple[str, ...]
    changed: Files = field(repr=False)

    def files(self, good_files: Files) -> Files:
        """The whole set."""
        return good_files | self.changed


def mutations(good: Board, count: int = COUNT, seed: int = SEED) -> list[Mutation]:
    """The first so many mutations of a seed, all kinds in turn."""
    chance = random.Random(seed)
    kinds = list(KINDS)
    return [KINDS[kinds[number % len(kinds)]](good, number, chance) for number in range(count)]


def negate_axis(good: Board, number: int, chance: random.Random) -> Mutation:
    """All coordinates of one axis of one file get the other sign."""
    role, axis = chance.choice(FLIPPABLE), chance.choice("xy")
    sign = (-1, 1) if axis == "x" else (1, -1)
    made = only(good.moved(lambda point: (sign[0] * point[0], sign[1] * point[1])), role)
    codes: tuple[str, ...] = ("board.side-mirrored", "board.registration", "board.mixed-revisions")
    if role == "centroid":  # its rows hold middles, which do not move as origins do
        column = 3 + "xy".index(axis)
        rows = list(csv.reader(io.StringIO(tables.centroid(good).decode())))
        negated = [rows[0], *([*row[:column], f"-{row[column]}", *row[column + 1 :]] for row in rows[1:])]
        made = Made({sets.name(good, role): tables.encoded(negated, tables.Style())})
        codes = ("board.placement-origin", "board.placement-side", "board.side-mirrored")
    return Mutation(
        number, "negate-axis", f"{axis} of {role} negated", role not in COSMETIC, (Where(role=role),), codes, made.files
    )


def swap_nets(good: Board, number: int, chance: random.Random) -> Mutation:
    """Two pins of a part exchange their nets, in circuit, copper and netlist alike."""
    while True:
        kind = chance.choice("UUUUJJJJDR")
        part = chance.choice([part for part in good.parts if part.ref[0] == kind and len(set(part.nets.values())) > 1])
        for _ in range(40):
            first, second = chance.sample(sorted(part.nets), 2)
            board = exchanged(good, part, first, second)
            if board is not None:
                nets = part.nets[first], part.nets[second]
                where = (Where(pin=f"{part.ref}-{first}", net=nets[0]), Where(pin=f"{part.ref}-{second}", net=nets[1]))
                done = f"{part.ref}: pins {first} and {second} exchanged ({nets[0]}, {nets[1]})"
                changes = not alike(part, first, second)
                made = only(board, *ROUTED).files
                return Mutation(number, "swap-nets", done, changes, where, swap_codes(part, nets), made)


def exchanged(good: Board, part: Part, first: str, second: str) -> Board | None:
    """The board with two pins of a part on each other's net; none where the comb cannot draw it with all parts in place."""
    nets = part.nets[first], part.nets[second]
    poured = part.footprint.name.startswith("15-pin") and {first, second} & set(POURED_PINS)
    if nets[0] == nets[1] or poured:
        return None
    try:
        board = board_of(renetted(good.parts, part.ref, **{f"_{first}": nets[1], f"_{second}": nets[0]}), good.revision)
    except ValueError:
        return None  # no room for it
    kept = [(pad.x_um, pad.y_um) for pad in board.pads] == [(pad.x_um, pad.y_um) for pad in good.pads]
    return board if kept and truth.opens_and_shorts(board) == (set(), set()) else None


def alike(part: Part, first: str, second: str) -> bool:
    """Whether two pins of a part may be exchanged without changing what the circuit does."""
    if part.ref[0] in "RC":
        return True
    nets = {part.nets[first], part.nets[second]}
    return (part.ref, {first, second}) in ALIKE or (part.ref == "U1" and nets in SAME_STRAPS)


def swap_codes(part: Part, nets: tuple[str, str]) -> tuple[str, ...]:
    """Codes that may name two exchanged nets."""
    usual = ["board.lane-path", "board.part-pins", "board.sync-path"]
    if part.footprint.name.startswith("15-pin"):
        usual += ["board.connector-function", "board.returns", "board.connector-side"]
    if part.ref == "J7":
        usual += ["board.inlet-pulls", "board.shell-floating", "board.inlet-data", "board.inlet"]
    if any(net.startswith(("boot", "enable")) for net in nets):
        usual.append("board.boot-pin")
    if any(net.startswith("serial") for net in nets):
        usual.append("board.serial-crossed")
    if any(net in ("GND", "3V3", "5V") for net in nets):
        usual.append("board.supply-pins")
    return tuple(usual)


def drop_part(good: Board, number: int, chance: random.Random) -> Mutation:
    """A part gone from the parts table, the centroid file or both."""
    part = chance.choice([part for part in good.parts if part.fit in ("machine", "hand")])
    roles = chance.choice((TABLES, ("bom",), ("centroid",))) if part.fit == "machine" else ("bom",)
    rest = replace(good, parts=tuple(one for one in good.parts if one.ref != part.ref))
    done = f"{part.ref} ({part.value}) gone from {' and '.join(roles)}"
    return Mutation(
        number,
        "drop-part",
        done,
        True,
        (Where(pin=part.ref),),
        ("board.part-missing", "board.lane-path"),
        only(rest, *roles).files,
    )


def move_drills(good: Board, number: int, chance: random.Random) -> Mutation:
    """One drill file moved; by 0.01 mm it stays inside what a factory does anyway."""
    role = chance.choice(("plated", "unplated"))
    step = chance.choice((10, 400, 1_000, 2_540, 5_080))
    dx, dy = chance.choice(((step, 0), (-step, 0), (0, step), (0, -step), (step, step)))
    made = only(good.moved(lambda point: (point[0] + dx, point[1] + dy)), role)
    done = f"{role} moved by {dx / 1_000} {dy / 1_000} mm"
    codes = ("board.registration", "board.mixed-revisions", "board.clearance", "board.open", "board.short")
    return Mutation(number, "move-drills", done, step > 50, (Where(role=role),), codes, made.files)


def swap_files(good: Board, number: int, chance: random.Random) -> Mutation:
    """Two layers exchange all they draw; each keeps its name and what it says of itself."""
    one, other = chance.sample(sets.LAYERS, 2)
    names = sets.name(good, one), sets.name(good, other)
    texts = [sets.written(good, role).decode() for role in (one, other)]
    heads, bodies = zip(*(text.split("%FSLA", 1) for text in texts), strict=True)
    made = {names[0]: f"{heads[0]}%FSLA{bodies[1]}", names[1]: f"{heads[1]}%FSLA{bodies[0]}"}
    changes = not {one, other} <= LEGENDS  # letters in the paste are paste
    codes = (
        "board.sides-swapped",
        "board.roles",
        "board.side-mirrored",
        "board.mixed-revisions",
        "board.open",
        "board.short",
    )
    return Mutation(
        number, "swap-files", f"{one} and {other} exchanged", changes, (Where(role=one), Where(role=other)), codes,
        {name: text.encode() for name, text in made.items()},
    )  # fmt: skip


def delete_track(good: Board, number: int, chance: random.Random) -> Mutation:
    """One stretch of copper gone."""
    track = chance.choice(good.tracks)
    rest = replace(good, tracks=tuple(one for one in good.tracks if one is not track))
    opened, _ = truth.opens_and_shorts(rest)
    where = (Where(f"{track.layer}-copper", "", track.net, *middle(track), reach(track)),)
    done = f"{track.net}: a track on the {track.layer} deleted"
    made = only(rest, f"{track.layer}-copper")
    return Mutation(number, "delete-track", done, track.net in opened, where, ("board.open",), made.files)


def bridge_tracks(good: Board, number: int, chance: random.Random) -> Mutation:
    """A stretch of copper between two neighbouring tracks."""
    while True:
        net = chance.choice(sorted({track.net for track in good.tracks}))
        try:
            one, other, start, end = truth.neighbours(good, net, "bottom")
        except ValueError:
            continue
        added = Track("bottom", start, end, 250, one)
        more = replace(good, tracks=(*good.tracks, added))
        _, shorted = truth.opens_and_shorts(more)
        nets = sorted({net for group in shorted for net in group if net != NO_NET})
        where = (Where("bottom-copper", "", " ".join(nets), *middle(added), reach(added)),)
        done = f"{one} and {other} bridged on the bottom"
        return Mutation(
            number, "bridge-tracks", done, bool(shorted), where, ("board.short",), only(more, "bottom-copper").files
        )


def change_value(good: Board, number: int, chance: random.Random) -> Mutation:
    """One value in the tables, wrong or near enough."""
    part = chance.choice([part for part in good.parts if part.value in WRONG_VALUES | NEAR_VALUES])
    wrong = part.value in WRONG_VALUES and (part.value not in NEAR_VALUES or chance.random() < 0.7)
    value = chance.choice((WRONG_VALUES if wrong else NEAR_VALUES)[part.value])
    changed = replace(
        good, parts=tuple(replace(one, value=value) if one.ref == part.ref else one for one in good.parts)
    )
    codes = VALUE_CODES.get(part.value, ())
    done = f"{part.ref}: {part.value} written as {value}"
    return Mutation(number, "change-value", done, wrong, (Where(pin=part.ref),), codes, only(changed, *TABLES).files)


def middle(track: Track) -> tuple[float, float]:
    """Middle of a track. [mm]."""
    return (track.start[0] + track.end[0]) / 2_000, (track.start[1] + track.end[1]) / 2_000


def reach(track: Track) -> float:
    """How far from a track's middle a finding about it may lie: half its length, and 1 mm. [mm]."""
    return 1.0 + hypot(track.end[0] - track.start[0], track.end[1] - track.start[1]) / 2_000


KINDS: dict[str, Callable[[Board, int, random.Random], Mutation]] = {
    "negate-axis": negate_axis,
    "swap-nets": swap_nets,
    "drop-part": drop_part,
    "move-drills": move_drills,
    "swap-files": swap_files,
    "delete-track": delete_track,
    "bridge-tracks": bridge_tracks,
    "change-value": change_value,
}
