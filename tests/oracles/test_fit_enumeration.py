"""Plans for a wish, by plain enumeration: every parent, divide, repeat, depth, stream and firmware state, judged one by one.

The rules are written anew here, from the wording of the job, so that no line of the search is trusted. Taken from the
program are the constants that bound the space, the clocks and the memory stage, which have oracles of their own.
White at 0.700 V into 75 ohm: EIA RS-343A levels as monitors took them over; from memory.
A seeded sample of parents is looked at; HYPOTHESIS_PROFILE=wide looks at all of them.
"""

from __future__ import annotations

import os
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import gcd

import pytest

from scanloom.handbook.chip import Chip, FirmwareState, Stream
from scanloom.handbook.chips import chip, chip_names
from scanloom.handbook.timing_ways import READIEST
from scanloom.handbook.timings import TimingRow, all_timings, find_timing
from scanloom.stages.clock import ClockCandidate, enumerate_chains
from scanloom.stages.memory import EntryRules, Placement, ScanShape, TransferList, WordStore, list_builder, place
from scanloom.survey import fit
from scanloom.survey.fit import FitRow, propose_fit
from scanloom.survey.fit_streams import fitting_streams
from scanloom.survey.wish import read_wish

CHIPS = ("wifi240", "rp2040")
# displays, lanes of one bit of all channels, pins of the same, bits where the wish says
WISHES: dict[str, tuple[tuple[int, int, int, int | None], ...]] = {
    "6 displays: 2 colour, 4 green": ((2, 3, 3, None), (4, 1, 1, None)),
    "2 colour": ((2, 3, 3, None),),
    "3 green with 2 bits": ((3, 1, 1, 2),),
}
CASES = [(name, text) for name in CHIPS for text in WISHES]
KEEP_BACK_BYTES = 24_000
WIDE = os.environ.get("HYPOTHESIS_PROFILE") == "wide"
SAMPLE, SEED = 6, 20_310_314

Raster = tuple[Fraction, int, int, int, int]
Plan = tuple[Raster, int, int, str, tuple[int, ...], str]
"""Raster, divide, repeat, stream, depth, firmware state."""


def raster_of(row: TimingRow) -> Raster:
    """What makes two timings of different names one raster."""
    return (row.pixel_clock_hz, row.active_px, row.active_lines, row.h_total_px, row.v_total_lines)


@cache
def all_parents() -> dict[Raster, TimingRow]:
    """Progressive timings without reduced blanking from 30 to 70 kHz, each raster once."""
    return {
        raster_of(row): row
        for row in reversed(all_timings())
        if not row.interlaced and row.reduced_blanking == "" and 30_000 <= row.pixel_clock_hz / row.h_total_px <= 70_000
    }


@cache
def looked_at() -> tuple[TimingRow, ...]:
    """Parents of this run: all, or the readiest three and a sample."""
    parents = list(all_parents().values())
    if WIDE:
        return tuple(parents)
    ready = [find_timing(name) for name in READIEST[:3]]
    rest = [row for row in parents if row not in ready]
    return (*ready, *random.Random(SEED).sample(rest, SAMPLE))


def depths_of(text: str) -> set[tuple[int, ...]]:
    """As wished; else 1 to 3 bits alike, or one bit for all that is not in colour."""
    made = set()
    for first in (1, 2, 3):
        for other in (1, first):
            made.add(tuple(bits or (first if lanes == 3 else other) for _, lanes, _, bits in WISHES[text]))
    if not any(lanes == 3 for _, lanes, _, _ in WISHES[text]):
        made |= {tuple(bits or n for _, _, _, bits in WISHES[text]) for n in (1, 2, 3)}
    return made


def divides_of(row: TimingRow) -> list[int]:
    """Divides up to 8 that leave all horizontal figures whole and 160 pixels of picture."""
    figures = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px)
    return [n for n in range(1, 9) if gcd(*figures) % n == 0 and row.active_px // n >= 160]


def repeats_of(row: TimingRow) -> list[int]:
    """Repeats up to 4 that leave whole rows, 100 at least."""
    return [n for n in (1, 2, 3, 4) if row.active_lines % n == 0 and row.active_lines // n >= 100]


@dataclass(frozen=True, slots=True)
class Judged:
    """One plan with what it needs, and the checks that fail."""

    failures: frozenset[str]
    pins: int
    current_a: float
    clock: ClockCandidate
    placed: Placement | None


@cache
def usable_pins(record: Chip) -> int:
    """Pins that may carry colours without being a last resort; for lanes on a run of pins, the longest run."""
    assert record.table.pins is not None
    good = [
        pin
        for pin in sorted(record.table.pins.pins)
        if not any(pin in row.pins and row.allow in ("last", "none") for row in record.table.pin)
    ]
    (routing,) = record.table.routing
    if routing.rule == "any":
        return len(good)
    assert routing.rule == "run" and not routing.windows and not routing.bases
    best = run = 0
    for pin in range(good[-1] + 1):
        run = run + 1 if pin in good else 0
        best = max(best, run)
    return best


@cache
def clock_of(name: str, stream: str, target_hz: Fraction, h_total_px: int) -> ClockCandidate:
    """Best rate by the documented rank, over every setting; the program searches whole dividers first."""
    chains = [c for c in chip(name).table.clock if not c.streams or stream in c.streams]
    return enumerate_chains(chains, target_hz, h_total_px=h_total_px, limit=1)[0]


@cache
def list_of(name: str, stream_name: str, raster: Raster, divide: int, repeat: int, rows: int) -> TransferList | None:
    """The transfer list, or None where a line is no whole number of reads; rows are those of the picture."""
    record, row = chip(name), all_parents()[raster]
    stream, transfer = stream_called(record, stream_name), record.table.transfer
    assert transfer is not None
    shape = ScanShape(
        h_active_px=row.active_px // divide,
        h_front_px=row.h_front_px // divide,
        h_sync_px=row.h_sync_px // divide,
        h_back_px=row.h_back_px // divide,
        v_active_lines=row.active_lines,
        v_front_lines=row.v_front_lines,
        v_sync_lines=row.v_sync_lines,
        v_back_lines=row.v_back_lines,
        picture_px=row.active_px // divide,
        picture_rows=rows,
        line_repeat=repeat,
    )
    words = WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)
    build, fault = list_builder(stream)
    rules = EntryRules(transfer.entry_bytes, transfer.longest_run_bytes, transfer.allocation_bytes)
    return None if fault(shape, words) is not None else build(shape, words, rules)


@cache
def memory_of(
    name: str, stream: str, state: str, raster: Raster, divide: int, repeat: int, rows: int
) -> Placement | None:
    """Where the frame lies, with what is kept back in one piece."""
    made = list_of(name, stream, raster, divide, repeat, rows)
    free = state_called(chip(name), state).free
    return None if made is None else place(made, free, KEEP_BACK_BYTES, count_frames=False)


def stream_called(record: Chip, name: str) -> Stream:
    return next(one for one in record.table.stream if one.name == name)


def state_called(record: Chip, name: str) -> FirmwareState:
    return next(one for one in record.table.state if one.name == name)


def word_lanes(text: str, depth: tuple[int, ...], stream: Stream) -> int:
    """Lanes of the word: colours, and the syncs where these are bits of it."""
    colours = sum(count * lanes * bits for (count, lanes, _, _), bits in zip(WISHES[text], depth, strict=True))
    return colours + 2 * (stream.sync == "word")


def judged(name: str, text: str, plan: Plan, rows: int | None = None, *, with_memory: bool = True) -> Judged:
    """Judge one plan, of the whole picture unless rows are given."""
    record, (raster, divide, repeat, stream_name, depth, state) = chip(name), plan
    row, stream = all_parents()[raster], stream_called(chip(name), stream_name)
    failures = set()
    if word_lanes(text, depth, stream) > stream.lanes:
        failures.add("lanes")
    pins = 2 + sum(count * each * bits for (count, _, each, _), bits in zip(WISHES[text], depth, strict=True))
    if pins > usable_pins(record):
        failures.add("pins")
    clock = clock_of(name, stream_name, row.pixel_clock_hz / divide, row.h_total_px // divide)
    off_ppm = abs(clock.achieved_hz / (row.pixel_clock_hz / divide) - 1) * 1_000_000
    if off_ppm > 5000 or clock.wobble_px > Fraction(15, 100):
        failures.add("clock")
    if clock.achieved_hz > stream.planned:
        failures.add("rate")
    own = record.table.own_pins
    current_a = sum(count * each for count, _, each, _ in WISHES[text]) * 0.7 / 75 + (own.amount.typical if own else 0)
    (total,) = (one.amount for one in record.table.current if one.over == "all pins" and one.pins is None)
    if current_a > total:
        failures.add("current")
    placed = None
    if with_memory or not failures:  # the dear one, and no matter where another fails
        placed = memory_of(name, stream_name, state, raster, divide, repeat, rows or row.active_lines // repeat)
        if placed is None or not placed.fits:
            failures.add("memory")
    return Judged(frozenset(failures), pins, current_a, clock, placed)


@cache
def kept_streams(name: str, text: str, depth: tuple[int, ...], raster: Raster, divide: int) -> set[str]:
    """Of each kind of routing and sync the narrowest stream that holds the word, before others one that reads lines whole:
    the program leaves out the wider ones."""
    record, row = chip(name), all_parents()[raster]
    lengths = [row.active_px // divide]
    kept: dict[tuple[object, ...], Stream] = {}
    for stream in record.table.stream:
        if stream.lanes < word_lanes(text, depth, stream):
            continue
        routing = record.routing_of(stream.name)
        assert routing is not None
        kind = (stream.sync, stream.table is None, routing.rule, routing.pins)
        of_line = lengths + ([row.h_total_px // divide] if stream.sync == "word" else [])

        def order(one: Stream, of_line: list[int] = of_line) -> tuple[bool, int]:
            return any(length % one.words_per_read for length in of_line), one.lanes

        if kind not in kept or order(stream) < order(kept[kind]):
            kept[kind] = stream
    return {stream.name for stream in kept.values()}


def all_plans(name: str, text: str) -> Iterator[Plan]:
    """The whole space of this run, in every stream of the chip."""
    record = chip(name)
    for row in looked_at():
        for divide in divides_of(row):
            for repeat in repeats_of(row):
                for depth in depths_of(text):
                    for stream in record.table.stream:
                        for state in record.table.state:
                            yield raster_of(row), divide, repeat, stream.name, depth, state.name


def plan_of(row: FitRow) -> Plan:
    """A row of the program as a plan; the raster by the name that a dossier would state."""
    return raster_of(find_timing(row.parent)), row.divide, row.repeat, row.stream, row.depth, row.state


def whole(row: FitRow) -> bool:
    """Whether every line of the parent shows a stored row."""
    return row.picture_rows * row.repeat == find_timing(row.parent).active_lines


@cache
def rows_of(name: str, text: str) -> tuple[FitRow, ...]:
    """What the program proposes with the parents of this run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fit, "wished_parents", looked_at)
        return propose_fit(read_wish(text), chip(name))


def test_parents_are_those_of_the_handbook() -> None:
    assert {raster_of(row) for row in fit.wished_parents()} == set(all_parents())
    assert len(fit.wished_parents()) == len(all_parents())
    for row in fit.wished_parents():  # the name in a starter leads back to the raster that was judged
        assert raster_of(find_timing(row.name)) == raster_of(row)


@pytest.mark.parametrize("text", WISHES)
def test_depths_are_those_of_the_wish(text: str) -> None:
    found = fit.wished_depths(read_wish(text))
    assert set(found) == depths_of(text)
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("name", chip_names())
def test_streams_are_the_narrowest_of_their_kind(name: str) -> None:
    """Of each kind of routing and sync one stream: the narrowest that holds the word, else the widest there is."""
    record = chip(name)
    kinds: dict[tuple[object, ...], list[Stream]] = {}
    for stream in record.table.stream:
        routing = record.routing_of(stream.name)
        assert routing is not None
        kinds.setdefault((stream.sync, stream.table is None, routing.rule, routing.pins), []).append(stream)
    for colours in range(1, 40):
        wanted = []
        for streams in kinds.values():
            enough = [one.lanes for one in streams if one.lanes >= colours + 2 * (one.sync == "word")]
            lanes = min(enough) if enough else max(one.lanes for one in streams)
            wanted.append(lanes)
        assert sorted(one.lanes for one in fitting_streams(record, colours)) == sorted(wanted), colours


@pytest.mark.parametrize(("name", "text"), CASES)
def test_fitting_plans_of_whole_pictures_are_just_these(name: str, text: str) -> None:
    mine = {
        plan
        for plan in all_plans(name, text)
        if plan[3] in kept_streams(name, text, plan[4], plan[0], plan[1])
        and not judged(name, text, plan, with_memory=False).failures
    }
    theirs = [plan_of(row) for row in rows_of(name, text) if row.fits and whole(row)]
    assert len(set(theirs)) == len(theirs)
    assert set(theirs) == mine
    # two displays in colour draw 56 mA at white and the flash pins 3 mA: over the 50 mA of that chip
    assert bool(mine) == (name == "wifi240" or text == "3 green with 2 bits")


@pytest.mark.parametrize(("name", "text"), CASES)
def test_every_row_fails_as_it_says_and_its_figures_are_right(name: str, text: str) -> None:
    for row in rows_of(name, text):
        plan, found = plan_of(row), judged(name, text, plan_of(row), row.picture_rows)
        assert set(row.failures) == set(found.failures), (row, found.failures)
        assert len(row.failures) <= 1
        assert row.first_failure.partition(":")[0] == "".join(row.failures)
        assert bool(row.cure) == bool(row.failures)
        assert row.picture_px == plan[0][1] // row.divide
        assert row.pins == found.pins
        assert row.current_a == pytest.approx(found.current_a, rel=1e-12)
        assert row.word_rate_hz == found.clock.achieved_hz
        assert row.frame_rate_hz == found.clock.achieved_hz / (plan[0][3] // row.divide * plan[0][4])
        used = found.placed.used_bytes if found.placed else 0
        assert (row.bytes_used, row.bytes_free) == (used, sum(state_called(chip(name), row.state).free) - used)


@pytest.mark.parametrize(("name", "text"), CASES)
def test_lower_pictures_fit_and_are_the_tallest(name: str, text: str) -> None:
    """A picture is cut by whole blocks of 8 rows, down to half: it fits, the next taller one does not."""
    cut = {plan_of(row): row.picture_rows for row in rows_of(name, text) if not whole(row)}
    assert len(cut) == sum(not whole(row) for row in rows_of(name, text))
    seen = set()
    for plan in all_plans(name, text):
        raster, divide, repeat, stream, depth, _ = plan
        lines = all_parents()[raster].active_lines // repeat
        least = -(-max(100, lines / 2) // 8) * 8
        if all_parents()[raster].name not in READIEST or least >= lines:
            continue
        if stream not in kept_streams(name, text, depth, raster, divide):
            continue
        other = judged(name, text, plan, with_memory=False).failures - {"memory"}
        if plan in cut:
            seen.add(plan)
            assert len(other) <= 1
            assert "memory" in judged(name, text, plan).failures
            assert cut[plan] % 8 == 0
            assert least <= cut[plan] < lines
            assert "memory" not in judged(name, text, plan, cut[plan]).failures
            if cut[plan] + 8 < lines:
                assert "memory" in judged(name, text, plan, cut[plan] + 8).failures, plan
        elif len(other) <= 1 and "memory" in judged(name, text, plan).failures:
            assert "memory" in judged(name, text, plan, int(least)).failures, plan
    assert seen == {plan for plan in cut if plan[3] in kept_streams(name, text, plan[4], plan[0], plan[1])}
    assert seen or name == "rp2040"


@pytest.mark.parametrize(("name", "text"), CASES)
def test_cures_mend(name: str, text: str) -> None:
    """What a row says would mend it was tried here and does, where it names a number."""
    for row in rows_of(name, text):
        raster, _, _, *rest = plan = plan_of(row)
        for cure in row.cure.split(", or "):
            if found := re.fullmatch(r"a picture of (\d+) rows", cure):
                assert not judged(name, text, plan, int(found[1])).failures, row
            elif found := re.fullmatch(r"each row (\d+) times", cure):
                assert not judged(name, text, (raster, row.divide, int(found[1]), *rest)).failures, row
            elif found := re.fullmatch(r"divide by (\d+)", cure):
                mended = (raster, int(found[1]), row.repeat, *rest)
                assert int(found[1]) in divides_of(all_parents()[raster])
                assert "rate" not in judged(name, text, mended, with_memory=False).failures, row
            elif found := re.fullmatch(r"(\d+) (lane|pin)s? less: fewer bits or displays", cure):
                lanes = word_lanes(text, row.depth, stream_called(chip(name), row.stream))
                there = (stream_called(chip(name), row.stream).lanes, usable_pins(chip(name)))[found[2] == "pin"]
                assert (lanes, row.pins)[found[2] == "pin"] - int(found[1]) == there, row
            else:
                assert not re.search(r"\d", cure), row


@pytest.mark.parametrize(("name", "text"), CASES)
def test_the_best_plan_stands_first(name: str, text: str) -> None:
    """What fits; the three readiest parents; whole pictures; square pixels; size; depth; the readier parent; room."""

    def place_of(row: FitRow) -> tuple[object, ...]:
        readiness = READIEST.index(row.parent) if row.parent in READIEST else len(READIEST)
        long_by = Fraction(max(row.divide, row.repeat), min(row.divide, row.repeat))
        return (
            len(row.failures),
            readiness > 2,
            not whole(row),
            long_by > 1,
            -row.picture_px * row.picture_rows,
            long_by,
            [-bits for bits in row.depth],
            readiness,
            -row.bytes_free,
        )

    places = [place_of(row) for row in rows_of(name, text)]
    assert places == sorted(places)
    assert len(places) >= 3
