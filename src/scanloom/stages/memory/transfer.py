"""The transfer list of one frame: which words are stored once, and in which runs they are sent.

A run may be a part of a stored run, so few words need storing. In the order of the ring each line reads

    picture columns | right border, front porch | sync, back porch, left border (of the next line)

A black line stored in this order serves every blank line, and its end is what follows the picture columns of every
picture line. Vertical sync begins and ends at the leading edge of a horizontal sync; where that edge lies inside a
read unit, the mixed unit is stored beside the lines of vertical sync.

Black words are all alike, so they may be sent twice. A blank line as *two runs* stores half of the black columns and
sends them twice, which saves half a line of words and costs one entry for each blank line: it pays for wide words and
few blank lines. The lines of vertical sync are few and nearly all black; in either form they are cut into as many runs
as cost fewest bytes.
"""

from __future__ import annotations

from itertools import accumulate
from math import isqrt

from scanloom.basis.record import record
from scanloom.stages.memory.model import (
    BlankForm,
    Entry,
    EntryRules,
    ScanShape,
    Segment,
    Store,
    TransferList,
    WordStore,
    check_shape,
)
from scanloom.stages.memory.row_runs import cut_run, row_runs, row_stores

Run = tuple[int, int]
"""First word of a store, and the word after the last."""

Segments = tuple[Segment, ...]


def alignment_fault(shape: ScanShape, word_store: WordStore) -> str | None:
    """Say why a raster cannot be cut into whole read units, if so.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.
    word_store : WordStore
        How words lie in RAM.

    Returns
    -------
    str or None
        What was given, what is allowed and what to do; None when picture and blank part are whole read units.
    """
    unit = word_store.words_per_read
    rule = f"with {word_store.lanes} lanes a run is whole reads of {unit} words ({word_store.read_bytes} B)"
    if odd := shape.picture_px % unit:
        below, above = shape.picture_px - odd, shape.picture_px - odd + unit
        widths = [str(width) for width in (below, above) if 0 < width <= shape.h_active_px]
        way = f"make the picture {' or '.join(widths)} words wide" if widths else "take a stream of more lanes"
        return f"picture of {shape.picture_px} words: {rule}; {way}"
    blank = shape.h_total_px - shape.picture_px
    if blank % unit:
        return (
            f"line of {shape.h_total_px} words, {blank} of them beside the picture: {rule}; "
            f"take a divide or a parent whose line is a multiple of {unit} words, or a stream of more lanes"
        )
    return None


def build_transfer_list(shape: ScanShape, word_store: WordStore, rules: EntryRules) -> TransferList:
    """Build the transfer list of one frame in the blank form that costs fewer bytes.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.
    word_store : WordStore
        How words lie in RAM.
    rules : EntryRules
        Size of an entry, longest run, cost of an allocation.

    Returns
    -------
    TransferList
        Stores and entries; blank lines as one run where both forms cost the same.

    Raises
    ------
    ValueError
        If the raster cannot be, is not whole read units, or no run holds a whole read unit.
    """
    plan = _Plan.of(shape, word_store, rules)
    one, two = plan.frame("one run"), plan.frame("two runs")
    return plan.build(two if plan.cost_bytes(two) < plan.cost_bytes(one) else one)


def build_blank_form(shape: ScanShape, word_store: WordStore, rules: EntryRules, form: BlankForm) -> TransferList:
    """Build the transfer list of one frame with blank lines in a given form.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.
    word_store : WordStore
        How words lie in RAM.
    rules : EntryRules
        Size of an entry, longest run, cost of an allocation.
    form : {"one run", "two runs"}
        Whether a blank line is sent whole, or as two runs that share black words.

    Returns
    -------
    TransferList
        Stores and entries in that form.

    Raises
    ------
    ValueError
        If the raster cannot be, is not whole read units, or no run holds a whole read unit.
    """
    plan = _Plan.of(shape, word_store, rules)
    return plan.build(plan.frame(form))


@record
class _Frame:
    """Runs of a frame, cut nowhere for length, as store, first word and word after the last."""

    form: BlankForm
    opening: list[tuple[int, int, int]]  # before the columns of the first picture line
    tail: list[tuple[int, int, int]]  # between the columns of one picture line and those of the next
    closing: list[tuple[int, int, int]]  # after the columns of the last picture line
    blank_stores: tuple[Segments, Segments]  # the blank line, the lines of vertical sync
    used: dict[int, Run]  # words of each blank store that any run sends


@record
class _Plan:
    """Raster and rules, with the places in a line, in the order of the ring, where runs are cut."""

    shape: ScanShape
    word_store: WordStore
    rules: EntryRules
    unit: int
    longest: int  # words of the longest run
    window: int  # end of the picture columns
    edge: int  # leading edge of horizontal sync
    edge_low: int  # the edge, down to a whole read unit
    edge_high: int  # and up
    sync_end: int  # trailing edge of horizontal sync
    total: int

    @classmethod
    def of(cls, shape: ScanShape, word_store: WordStore, rules: EntryRules) -> _Plan:
        """Check what was given and take the places from the raster."""
        check_shape(shape)
        _check_rules(word_store, rules)
        if fault := alignment_fault(shape, word_store):
            raise ValueError(fault)
        unit = word_store.words_per_read
        edge = shape.picture_px + shape.right_border_px + shape.h_front_px
        return cls(
            shape=shape,
            word_store=word_store,
            rules=rules,
            unit=unit,
            longest=rules.longest_run_bytes // word_store.read_bytes * unit,
            window=shape.picture_px,
            edge=edge,
            edge_low=edge // unit * unit,
            edge_high=-(-edge // unit) * unit,
            sync_end=edge + shape.h_sync_px,
            total=shape.h_total_px,
        )

    def frame(self, form: BlankForm) -> _Frame:
        """List the runs of one frame."""
        shape, blank, sync = self.shape, 0, 1
        kept = self.window if form == "one run" else -(-self.window // (2 * self.unit)) * self.unit
        saved = self.window - kept  # black columns that are not stored, since others are sent again

        def quiet(first: int, last: int) -> list[tuple[int, int, int]]:
            if first == 0 and saved:
                return [(blank, 0, kept), (blank, kept - saved, last - saved)]
            return [(blank, first - saved, last - saved)]

        whole, tail = quiet(0, self.total), quiet(self.window, self.total)
        sync_segments, sync_runs = self.sync_lines()
        below = shape.v_active_lines + shape.v_front_lines - shape.top_border_lines - shape.picture_lines
        opening = whole * shape.top_border_lines
        closing = (tail if shape.picture_lines else []) + whole * below
        if shape.v_sync_lines:
            # the line before vertical sync stops at the edge, be it a black line or the last of the picture
            del closing[-len(whole if below else tail) :]
            closing += quiet(0 if below else self.window, self.edge_low)
            closing += [(sync, first, last) for first, last in sync_runs]
            closing += quiet(self.edge_high, self.total)
        closing += whole * shape.v_back_lines
        opening, tail, closing = ([run for run in runs if run[1] < run[2]] for runs in (opening, tail, closing))

        used: dict[int, Run] = {}
        for store, first, last in {*opening, *(tail if shape.picture_lines > 1 else []), *closing}:
            low, high = used.get(store, (first, last))
            used[store] = (min(low, first), max(high, last))
        stored = (_part(self.black_line(v_sync=False), saved, self.total), sync_segments)
        return _Frame(form, opening, tail, closing, stored, used)

    def cost_bytes(self, frame: _Frame) -> int:
        """Bytes by which two forms of one frame differ: blank stores with their overhead, and their entries."""
        stored = sum(self.word_store.size_bytes(last - first) for first, last in frame.used.values())
        tails = self.entries_bytes(frame.tail) * max(self.shape.picture_lines - 1, 0)
        entries = self.entries_bytes(frame.opening) + tails + self.entries_bytes(frame.closing)
        return stored + self.rules.overhead_bytes * len(frame.used) + entries

    def entries_bytes(self, runs: list[tuple[int, int, int]]) -> int:
        """Bytes of the entries that send some runs, none longer than the longest."""
        return self.rules.entry_bytes * sum([-(-(last - first) // self.longest) for _, first, last in runs])

    def build(self, frame: _Frame) -> TransferList:
        """Make stores and entries of the runs."""
        rows = self.shape.picture_rows
        stores = [*row_stores(rows, self.window)]
        moved: dict[int, Run] = {}  # new place of a blank store, and the words dropped from its front
        for old, (name, segments) in enumerate(zip(("blank line", "vertical sync"), frame.blank_stores, strict=True)):
            if old in frame.used:  # words that no run sends are not stored: without blank lines, only a line's end
                moved[old] = (len(stores), frame.used[old][0])
                stores.append(Store(name, "blank", _joined(_part(segments, *frame.used[old]))))

        def sent(runs: list[tuple[int, int, int]]) -> list[Entry]:
            made: dict[tuple[int, int, int], list[Entry]] = {}
            for run in dict.fromkeys(runs):
                store, dropped = moved[run[0]]
                made[run] = self.entries(store, run[1] - dropped, run[2] - dropped)
            return [entry for run in runs for entry in made[run]]

        tail = sent(frame.tail) if self.shape.picture_lines > 1 else []
        entries = sent(frame.opening)
        for runs_of_row in row_runs(rows, self.window, self.longest):
            entries += [*runs_of_row, *tail] * self.shape.line_repeat
        del entries[len(entries) - (len(tail) if rows else 0) :]
        entries += sent(frame.closing)
        return TransferList(tuple(stores), tuple(entries), self.word_store, self.rules, frame.form)

    def entries(self, store: int, first: int, last: int) -> list[Entry]:
        """Entries of one run, none longer than the longest."""
        return cut_run(store, first, last, self.longest)

    def black_line(self, v_sync: bool) -> Segments:
        """Give a whole black line."""
        return (
            Segment(self.edge, False, v_sync, None),
            Segment(self.sync_end - self.edge, True, v_sync, None),
            Segment(self.total - self.sync_end, False, v_sync, None),
        )

    def sync_lines(self) -> tuple[Segments, list[Run]]:
        """Store and runs of all lines of vertical sync, in the number of runs that costs fewest bytes."""
        lines = self.shape.v_sync_lines
        if not lines:
            return (), []
        # n runs a line cost about a/n + b*n bytes: nothing is gained beyond the root of a/b, nor below what the longest
        # run forces. No run gets shorter than the blank run that each picture line sends anyway.
        root = isqrt(self.word_store.size_bytes(self.total) // (self.rules.entry_bytes * lines))
        most = min(max(root, self.total // self.longest) + 1, self.total // max(self.total - self.window, self.unit))
        made = [self.sync_lines_in(n) for n in range(1, max(most, 1) + 1)]

        def cost(one: tuple[Segments, list[Run]]) -> int:
            stored = self.word_store.size_bytes(sum(part.words for part in one[0]))
            return stored + self.entries_bytes([(0, first, last) for first, last in one[1]])

        return min((one for one in made if one is not None), key=cost)

    def sync_lines_in(self, runs_a_line: int) -> tuple[Segments, list[Run]] | None:
        """Store and runs with a given number of runs a line, or None if the black words do not part so."""
        lines, quiet, pulse = self.shape.v_sync_lines, self.black_line(v_sync=False), self.black_line(v_sync=True)
        head_end = max(self.edge_high, -(-self.sync_end // self.unit) * self.unit)
        black = self.total - (head_end - self.edge_low)
        piece = -(-black // (runs_a_line * self.unit)) * self.unit
        rest = black - piece * (runs_a_line - 1)
        if runs_a_line > 1 and rest <= 0:
            return None

        # enter | head | black piece | again | leave; the first, fourth and last are the mixed unit, if there is one
        enter = (*_part(quiet, self.edge_low, self.edge), *_part(pulse, self.edge, self.edge_high))
        head = _part(pulse, self.edge_high, head_end)
        again = _part(pulse, self.edge_low, self.edge_high) if lines > 1 else ()
        leave = (*_part(pulse, self.edge_low, self.edge), *_part(quiet, self.edge, self.edge_high))
        parts = (enter, head, (Segment(piece, False, True, None),), again, leave)
        ends = list(accumulate(sum(part.words for part in segments) for segments in parts))
        head_at, piece_at, piece_end, leave_at, end = ends

        runs: list[Run] = []
        for line in range(lines):
            first = 0 if line == 0 else head_at
            last = leave_at if line < lines - 1 else piece_end if lines > 1 else end
            if runs_a_line == 1:
                runs.append((first, last))
            else:
                runs += [(first, piece_end), *[(piece_at, piece_end)] * (runs_a_line - 2), (piece_end - rest, last)]
        if lines > 1 and leave:
            runs.append((leave_at, end))
        return tuple(part for segments in parts for part in segments), runs


def _part(segments: Segments, first: int, last: int) -> Segments:
    """Words from first up to last."""
    out, at = [], 0
    for part in segments:
        words = min(at + part.words, last) - max(at, first)
        if words > 0:
            out.append(Segment(words, part.h_sync, part.v_sync, part.row))
        at += part.words
    return tuple(out)


def _joined(segments: Segments) -> Segments:
    """Neighbours of one kind made one."""
    out: list[Segment] = []
    for part in segments:
        if out and (out[-1].h_sync, out[-1].v_sync, out[-1].row) == (part.h_sync, part.v_sync, part.row):
            out[-1] = Segment(out[-1].words + part.words, part.h_sync, part.v_sync, part.row)
        elif part.words:
            out.append(part)
    return tuple(out)


def _check_rules(word_store: WordStore, rules: EntryRules) -> None:
    """Refuse a store or an entry that cannot be."""
    way = "take the number from the chip profile"
    for name in ("lanes", "words_per_read", "read_bytes"):
        if getattr(word_store, name) < 1:
            raise ValueError(f"{name} = {getattr(word_store, name)}: allowed is 1 or more; {way}")
    if rules.entry_bytes < 1:
        raise ValueError(f"entry of {rules.entry_bytes} B: allowed is 1 B or more; {way}")
    if rules.overhead_bytes < 0:
        raise ValueError(f"overhead of {rules.overhead_bytes} B: allowed is 0 B or more; {way}")
    if rules.longest_run_bytes < word_store.read_bytes:
        raise ValueError(
            f"longest run of {rules.longest_run_bytes} B: allowed is a read of {word_store.read_bytes} B or more; {way}"
        )
