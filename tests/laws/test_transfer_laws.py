"""Laws of the transfer list: whatever the raster, it sends the frame, and its bytes are those of what it stores."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from scanloom.stages.memory.drawing import drawing_time, smallest_changes
from scanloom.stages.memory.model import EntryRules, ScanShape, TransferList, WordStore
from scanloom.stages.memory.placement import cheapest_blocks, place
from scanloom.stages.memory.transfer import alignment_fault, build_blank_form, build_transfer_list

Word = tuple[bool, bool, int | None, int]
"""Inside horizontal sync, inside vertical sync, image row, column of the picture (0 for black)."""

FORMS = ("one run", "two runs")


@st.composite
def word_stores(draw: st.DrawFn) -> WordStore:
    lanes, words, size = draw(st.sampled_from([(8, 4, 4), (16, 2, 4), (24, 1, 4), (4, 8, 4), (8, 1, 1)]))
    return WordStore(lanes, words, size)


@st.composite
def shapes(draw: st.DrawFn, unit: int) -> ScanShape:
    """Rasters whose picture and line are whole reads; porches and sync fall where they like."""
    few = st.integers(0, 9)
    picture = unit * draw(st.integers(1, 9))
    right, front, sync = draw(few), draw(few), draw(few)
    back = draw(few)
    back += -(picture + right + front + sync + back) % unit
    repeat, rows = draw(st.integers(1, 3)), draw(st.integers(0, 5))
    border = draw(st.integers(0, 4))
    return ScanShape(
        h_active_px=picture + right,
        h_front_px=front,
        h_sync_px=sync,
        h_back_px=back,
        v_active_lines=max(rows * repeat + border, 1),
        v_front_lines=draw(st.integers(0, 3)),
        v_sync_lines=draw(st.integers(0, 4)),
        v_back_lines=draw(st.integers(0, 3)),
        picture_px=picture,
        picture_rows=rows,
        line_repeat=repeat,
    )


@st.composite
def jobs(draw: st.DrawFn) -> tuple[ScanShape, WordStore, EntryRules]:
    store = draw(word_stores())
    longest = store.read_bytes * draw(st.integers(1, 30)) + draw(st.integers(0, store.read_bytes - 1))
    rules = EntryRules(draw(st.integers(1, 12)), longest, draw(st.integers(0, 8)))
    return draw(shapes(store.words_per_read)), store, rules


def sent(made: TransferList) -> list[Word]:
    """All words of the ring, entry by entry."""
    stores: list[list[Word]] = []
    for store in made.stores:
        words: list[Word] = []
        for part in store.segments:
            for _ in range(part.words):
                words.append((part.h_sync, part.v_sync, part.row, len(words) if part.row is not None else 0))
        stores.append(words)
    return [word for e in made.entries for word in stores[e.store][e.first_word : e.first_word + e.words]]


def wanted(shape: ScanShape) -> list[Word]:
    """The same from the raster alone, line period by line period from the leading edge of horizontal sync."""
    left = (shape.h_active_px - shape.picture_px) // 2
    top = (shape.v_active_lines - shape.picture_rows * shape.line_repeat) // 2
    starts = shape.h_sync_px + shape.h_back_px + left
    total = shape.h_sync_px + shape.h_back_px + shape.h_active_px + shape.h_front_px
    pulse = shape.v_active_lines + shape.v_front_lines
    lines = pulse + shape.v_sync_lines + shape.v_back_lines
    frame: list[Word] = []
    for line in range(lines):
        row, rest = divmod(line - top, shape.line_repeat)
        inside = 0 <= row < shape.picture_rows
        assert 0 <= rest < shape.line_repeat
        for x in range(total):
            v_sync = pulse <= line < pulse + shape.v_sync_lines
            column = x - starts
            drawn = inside and 0 <= column < shape.picture_px
            frame.append((x < shape.h_sync_px, v_sync, row if drawn else None, column if drawn else 0))
    return frame[starts:] + frame[:starts]


@given(jobs(), st.sampled_from(FORMS))
def test_each_blank_form_sends_the_raster_word_by_word(job: tuple[ScanShape, WordStore, EntryRules], form: str) -> None:
    made = build_blank_form(*job, form)  # type: ignore[arg-type]
    words = sent(made)
    assert len(words) == job[0].h_total_px * job[0].v_total_lines
    assert words == wanted(job[0])
    assert made.blank_form == form


@given(jobs())
def test_picture_words_are_sent_once_for_each_repeat(job: tuple[ScanShape, WordStore, EntryRules]) -> None:
    shape = job[0]
    seen = Counter((row, column) for _, _, row, column in sent(build_transfer_list(*job)) if row is not None)
    assert set(seen) == set(product(range(shape.picture_rows), range(shape.picture_px if shape.picture_rows else 0)))
    assert set(seen.values()) <= {shape.line_repeat}


@given(jobs())
def test_entries_are_whole_reads_inside_their_store(job: tuple[ScanShape, WordStore, EntryRules]) -> None:
    shape, store, rules = job
    made = build_transfer_list(*job)
    used = set()
    for entry in made.entries:
        assert 0 < entry.words
        assert 0 <= entry.first_word and entry.first_word + entry.words <= made.stores[entry.store].words
        assert entry.first_word % store.words_per_read == entry.words % store.words_per_read == 0
        assert entry.words // store.words_per_read * store.read_bytes <= rules.longest_run_bytes
        used |= {(entry.store, entry.first_word + at) for at in range(entry.words)}
    unsent = sum(kept.words for kept in made.stores) - len(used)
    if shape.v_sync_lines and shape.v_total_lines - shape.v_sync_lines == 1:
        assert unsent in (0, store.words_per_read)  # the one line outside the pulse is cut around a mixed read
    else:
        assert unsent == 0
    assert len({kept.segments for kept in made.stores}) == len(made.stores)


@given(jobs())
def test_the_form_taken_costs_no_more_than_the_other(job: tuple[ScanShape, WordStore, EntryRules]) -> None:
    costs = [
        place(made, (), 0).used_bytes
        for made in (build_blank_form(*job, "one run"), build_blank_form(*job, "two runs"))
    ]
    taken = build_transfer_list(*job)
    assert place(taken, (), 0).used_bytes == min(costs)
    assert taken.blank_form == ("one run" if costs[0] <= costs[1] else "two runs")


@given(jobs(), st.integers(0, 50), st.integers(1, 3))
def test_bytes_are_counts_of_the_list(
    job: tuple[ScanShape, WordStore, EntryRules], keep_back: int, frames: int
) -> None:
    _, store, rules = job
    made = build_transfer_list(*job)
    counted = {"picture": 0, "blank": 0}
    allocations = {"picture": 0, "blank": 0}
    for kept in made.stores:
        allocations[kept.kind] += 1
        for part in kept.segments:
            for _ in range(part.words):
                counted[kept.kind] += 1
    word_bytes = store.read_bytes / store.words_per_read
    placed = place(made, (10_000, 3_000), keep_back, frames)
    assert placed.picture_bytes == counted["picture"] * word_bytes * frames
    assert placed.blank_bytes == counted["blank"] * word_bytes
    assert placed.entry_bytes == sum(rules.entry_bytes for _ in made.entries) * frames
    allocated = (allocations["picture"] + 1) * frames + allocations["blank"]
    assert placed.overhead_bytes == allocated * rules.overhead_bytes
    assert placed.keep_back_bytes == keep_back
    named = placed.picture_bytes + placed.blank_bytes + placed.entry_bytes + placed.overhead_bytes + keep_back
    assert placed.used_bytes == named
    if placed.fits:
        assert placed.free_bytes == 13_000 - named


def most_lines(specials: list[int], blocks: list[int], line: int) -> int | None:
    """Every special item in every block, and the rows that are left room."""
    best = None
    for where in product(range(len(blocks)), repeat=len(specials)):
        left = list(blocks)
        for size, block in zip(specials, where, strict=True):
            left[block] -= size
        if min(left, default=0) >= 0:
            best = max(best or 0, sum(room // line for room in left))
    return best


@given(st.lists(st.integers(0, 40), max_size=4), st.lists(st.integers(0, 60), max_size=5), st.integers(1, 20))
def test_special_items_are_placed_as_well_as_trying_everything(
    specials: list[int], blocks: list[int], line: int
) -> None:
    best = most_lines(specials, blocks, line)
    where = cheapest_blocks(specials, blocks, line)
    if where is None:
        assert best is None
        return
    left = list(blocks)
    for size, block in zip(specials, where, strict=True):
        left[block] -= size
    assert min(left, default=0) >= 0
    assert sum(room // line for room in left) == best


blocks_near = st.lists(st.integers(0, 400), min_size=1, max_size=4)


@given(jobs(), blocks_near, st.integers(0, 40), st.integers(1, 2))
def test_placement_adds_up_block_by_block(
    job: tuple[ScanShape, WordStore, EntryRules], blocks: list[int], keep_back: int, frames: int
) -> None:
    shape = job[0]
    placed = place(build_transfer_list(*job), blocks, keep_back, frames)
    rows = shape.picture_rows * frames
    best = most_lines([item.size_bytes for item in placed.specials], blocks, placed.line_bytes or 1)
    assert placed.fits == (best is not None and (not rows or best >= rows))
    assert placed.lines_missing == rows - (min(best, rows) if best is not None else 0) if rows else True
    for block, size in enumerate(blocks):
        items = sum(item.size_bytes for item in placed.specials if item.block == block)
        assert items + placed.lines_per_block[block] * placed.line_bytes + placed.left_bytes[block] == size
    assert sum(placed.lines_per_block) + placed.lines_missing == rows
    assert sum(placed.left_bytes) == placed.free_bytes
    assert placed.fits == (placed.frames_that_fit >= frames)


@given(jobs(), blocks_near, st.integers(0, 40), st.data())
def test_more_ram_never_makes_it_not_fit(
    job: tuple[ScanShape, WordStore, EntryRules], blocks: list[int], keep_back: int, data: st.DataObject
) -> None:
    made = build_transfer_list(*job)
    small = place(made, blocks, keep_back)
    at = data.draw(st.integers(0, len(blocks) - 1))
    larger = [size + data.draw(st.integers(0, 30)) if block == at else size for block, size in enumerate(blocks)]
    large = place(made, larger, keep_back)
    assert large.fits or not small.fits
    assert large.lines_missing <= small.lines_missing
    assert large.frames_that_fit >= small.frames_that_fit
    assert place(made, [*blocks, 25], keep_back).lines_missing <= small.lines_missing


@given(jobs(), st.lists(st.integers(50, 300), min_size=1, max_size=3))
def test_changes_fit_and_the_height_is_the_largest(
    job: tuple[ScanShape, WordStore, EntryRules], blocks: list[int]
) -> None:
    shape, store, rules = job
    now = place(build_transfer_list(*job), blocks, 0)
    changes = smallest_changes(shape, store, rules, blocks, 0)
    assume(not now.fits)
    for change in changes:
        halved = {name: getattr(shape, name) // 2 for name in ScanShape.__slots__ if name.startswith("h_")}
        changed = replace(
            shape,
            picture_px=change.picture_px,
            picture_rows=change.picture_rows,
            line_repeat=change.line_repeat,
            **(halved if change.divide_doubled else {}),
        )
        placed = place(build_transfer_list(changed, store, rules), blocks, 0)
        assert placed.fits
        assert change.bytes_saved == now.used_bytes - placed.used_bytes
    lost = [-change.picture_px * change.picture_rows for change in changes]
    assert lost == sorted(lost)
    lower = [change.picture_rows for change in changes if change.what.startswith("a picture of")]
    for rows in range(max(lower, default=0) + 1, min(max(lower, default=0) + 2, shape.picture_rows)):
        assert not place(build_transfer_list(replace(shape, picture_rows=rows), store, rules), blocks, 0).fits


@given(jobs(), st.integers(0, 3))
def test_what_is_no_whole_read_is_refused(job: tuple[ScanShape, WordStore, EntryRules], more: int) -> None:
    shape, store, rules = job
    wider = replace(shape, h_active_px=shape.h_active_px + more, picture_px=shape.picture_px + more)
    longer = replace(shape, h_back_px=shape.h_back_px + more)
    for changed in (wider, longer):
        fault = alignment_fault(changed, store)
        assert (fault is None) == (more % store.words_per_read == 0)
        if fault:
            with pytest.raises(ValueError) as refused:
                build_transfer_list(changed, store, rules)
            assert str(refused.value) == fault


@given(jobs(), st.floats(0.05, 3.0))
def test_a_redraw_behind_the_beam_is_unseen_up_to_its_window(
    job: tuple[ScanShape, WordStore, EntryRules], share: float
) -> None:
    """Each row against the line periods that read it, in the frame that is shown and in the two that follow."""
    shape = job[0]
    assume(shape.picture_rows and shape.v_total_lines > shape.line_repeat)
    times = drawing_time(shape, 1.0, 1.0)
    assume(abs(share - 1) > 1e-9)
    took = times.behind_beam_s * share
    assume(took >= shape.picture_lines or shape.picture_rows == 1)  # a quicker one has to wait for the beam

    seen = False
    for row in range(shape.picture_rows):
        begun = shape.line_repeat + row * took / shape.picture_rows
        done = begun + took / shape.picture_rows
        for frame in range(5):
            for line in range(shape.line_repeat):
                reads = frame * shape.v_total_lines + row * shape.line_repeat + line
                seen |= begun < reads + 1 - 1e-9 and done > reads + 1e-9
    assert seen == (share > 1)
