"""Bytes of a transfer list, and whether they find room in the free blocks of RAM.

Image rows are all of one size and may lie anywhere. Few things are of other sizes and each must lie whole in one block:
the blank stores, the array of entries, and what is kept back. These *special items* are placed where they cost fewest
rows; the rows then fill what is left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from heapq import nsmallest
from itertools import product
from math import inf
from typing import NamedTuple

from scanloom.basis.record import record
from scanloom.stages.memory.model import TransferList

MOST_FRAMES = 8
"""Frames are counted up to here: beyond, a maker thinks in pictures, not in a second frame. [1]"""


@record
class SpecialItem:
    """A thing that lies whole in one block and is not an image row."""

    name: str
    """The blank store's name, "entries" (with a number from the second frame on) or "keep-back"."""
    size_bytes: int
    """Its bytes, overhead of the allocation included. [B]"""
    block: int | None
    """Place of its block in the list of blocks; None when the special items find no room together. [1]"""


@record
class Placement:
    """Bytes of one or more frames by name, and where they lie."""

    fits: bool
    """Whether all rows and special items find room."""
    frames: int
    """Frames asked for, each with its own rows and entries. [1]"""
    picture_bytes: int
    """Words of all image rows. [B]"""
    blank_bytes: int
    """Words of the blank stores, which all frames share. [B]"""
    entry_bytes: int
    """Entries of all frames. [B]"""
    overhead_bytes: int
    """Allocator's cost of rows, blank stores and arrays of entries. [B]"""
    keep_back_bytes: int
    """The piece left whole for other things. [B]"""
    used_bytes: int
    """Sum of the five above, whether it fits or not. [B]"""
    free_bytes: int
    """Bytes of all blocks left after what was placed. [B]"""
    line_bytes: int
    """One image row with its overhead. [B]"""
    specials: tuple[SpecialItem, ...]
    """Items that must lie whole, and where they lie."""
    lines_per_block: tuple[int, ...]
    """Image rows placed in each block, in the order of the blocks. [1]"""
    lines_missing: int
    """Image rows that find no room; all of them when the special items find none. [1]"""
    left_bytes: tuple[int, ...]
    """Bytes left in each block. [B]"""
    frames_that_fit: int
    """Frames for which there would be room, counted up to eight or the frames asked for. [1]"""


def place(
    transfer_list: TransferList,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    frames: int = 1,
    *,
    count_frames: bool = True,
) -> Placement:
    """Place frames of a transfer list into blocks of RAM.

    Parameters
    ----------
    transfer_list : TransferList
        Stores and entries of one frame.
    blocks_bytes : sequence of int
        Free blocks. [B]
    keep_back_bytes : int
        Bytes that must stay in one piece for other things. [B]
    frames : int
        Frames wanted at once, each with rows and entries of its own. [1]
    count_frames : bool
        Whether to count further frames that would fit; a search over many plans need not know.

    Returns
    -------
    Placement
        Bytes by name and where they lie.

    Raises
    ------
    ValueError
        If a size is negative, no frame is asked for, or the image rows differ in size.
    """
    if keep_back_bytes < 0 or min(blocks_bytes, default=0) < 0:
        raise ValueError(
            f"blocks of {list(blocks_bytes)} B with {keep_back_bytes} B kept back: allowed is 0 B or more; "
            "give free blocks and keep-back as measured"
        )
    if frames < 1:
        raise ValueError(f"{frames} frames: allowed is 1 or more; ask for the frames that are shown in turn")
    sizes = _Sizes.of(transfer_list, keep_back_bytes)
    specials = sizes.specials(frames)
    rows = sizes.rows * frames
    where, left = _rooms([size for _, size in specials], blocks_bytes, sizes.line_bytes)
    lines, missing = [0] * len(blocks_bytes), rows
    if where is not None and rows:
        for block, room in enumerate(left):
            lines[block] = min(room // sizes.line_bytes, missing)
            left[block] -= lines[block] * sizes.line_bytes
            missing -= lines[block]
    allocations = rows + len(sizes.blank) + frames
    picture = (sizes.line_bytes - sizes.overhead) * rows
    blank = sum(size - sizes.overhead for _, size in sizes.blank)
    entry = (sizes.entries - sizes.overhead) * frames
    return Placement(
        fits=where is not None and missing == 0,
        frames=frames,
        picture_bytes=picture,
        blank_bytes=blank,
        entry_bytes=entry,
        overhead_bytes=sizes.overhead * allocations,
        keep_back_bytes=keep_back_bytes,
        used_bytes=picture + blank + entry + sizes.overhead * allocations + keep_back_bytes,
        free_bytes=sum(left),
        line_bytes=sizes.line_bytes,
        specials=tuple(
            SpecialItem(name, size, where[at] if where is not None else None)
            for at, (name, size) in enumerate(specials)
        ),
        lines_per_block=tuple(lines),
        lines_missing=missing,
        left_bytes=tuple(left),
        frames_that_fit=_frames_that_fit(sizes, blocks_bytes, max(MOST_FRAMES, frames))
        if count_frames
        else frames * (where is not None and missing == 0),
    )


def cheapest_blocks(
    special_bytes: Sequence[int], blocks_bytes: Sequence[int], line_bytes: int
) -> tuple[int, ...] | None:
    """Blocks for the special items that leave room for most image rows.

    Parameters
    ----------
    special_bytes : sequence of int
        Sizes of the special items. [B]
    blocks_bytes : sequence of int
        Free blocks. [B]
    line_bytes : int
        One image row with its overhead; 0 when there are none. [B]

    Returns
    -------
    tuple of int or None
        Block of each special item; None when they find no room together. [1]

    Notes
    -----
    The result is exact. Special items that share a block form a *group*, so a placement is a parting of the items into
    groups on different blocks. A group of w bytes in a block of c bytes costs floor(c/P) - floor((c - w)/P) rows of P
    bytes, whatever the other groups do; the rows left are those of empty blocks less the sum of the costs.

    Of k items let a group hold g. Only the k - g + 1 cheapest blocks that hold the group are kept, and none better is
    lost: there are at most k - g other groups, so if the group lies outside its list, a block of the list is free of
    all others; moving there costs no more and moves no other group. Repeated, this brings every group into its list.

    Among what is kept every placement is looked at: block after block takes one group or none, and for each set of
    items placed so far the lowest cost is carried on. That cost alone decides what the later blocks may add, so nothing
    else need be remembered. Items of equal size stand for one another and are counted, not told apart.
    """
    kinds = sorted(Counter(special_bytes).items(), reverse=True)
    if not kinds:
        return ()
    steps, count = [], 1  # a set of items is one number: so many of each kind, in mixed radix
    for _, often in kinds:
        steps.append(count)
        count *= often + 1
    groups = list(product(*[range(often + 1) for _, often in kinds]))[1:]
    offers: list[list[tuple[int, int, list[int]]]] = [[] for _ in blocks_bytes]  # cost, group, sets it may join
    line = line_bytes or max(blocks_bytes, default=0) + 1
    for group in groups:
        weight = sum(size * n for (size, _), n in zip(kinds, group, strict=True))
        costs = [(c // line - (c - weight) // line, block) for block, c in enumerate(blocks_bytes) if weight <= c]
        if not costs:
            continue
        sets = [0]
        for step, (_, often), n in zip(steps, kinds, group, strict=True):
            sets = [at + step * more for at in sets for more in range(often - n + 1)]
        number = sum(step * n for step, n in zip(steps, group, strict=True))
        for cost, block in nsmallest(len(special_bytes) - sum(group) + 1, costs):
            offers[block].append((cost, number, sets))

    best: list[float] = [0.0] + [inf] * (count - 1)
    paths: list[_Step | None] = [None] * count
    for block, offered in enumerate(offers):
        before, path_before = best[:], paths[:]
        for cost, number, sets in offered:
            for at in sets:
                if before[at] + cost < best[at + number]:
                    best[at + number] = before[at] + cost
                    paths[at + number] = _Step(path_before[at], block, number)
    if best[-1] == inf:
        return None

    homes: list[list[int]] = [[] for _ in kinds]  # blocks of the items of each kind
    path = paths[-1]
    while path is not None:
        for home, step, (_, often) in zip(homes, steps, kinds, strict=True):
            home += [path.block] * (path.group // step % (often + 1))
        path = path.before
    by_size = {size: home for (size, _), home in zip(kinds, homes, strict=True)}
    return tuple(by_size[size].pop() for size in special_bytes)


class _Step(NamedTuple):
    """A group put in a block, and what was put in the blocks before."""

    before: _Step | None
    block: int
    group: int


@record
class _Sizes:
    """Bytes of what one frame needs, overhead included."""

    rows: int
    line_bytes: int
    blank: tuple[tuple[str, int], ...]
    entries: int
    keep_back: int
    overhead: int

    @classmethod
    def of(cls, transfer_list: TransferList, keep_back_bytes: int) -> _Sizes:
        """Count the list."""
        overhead, store = transfer_list.rules.overhead_bytes, transfer_list.word_store
        words = [made.words for made in transfer_list.stores if made.kind == "picture"]
        if len(set(words)) > 1:
            raise ValueError(
                f"image rows of {sorted(set(words))} words: allowed is one size; build the list of one raster"
            )
        return cls(
            rows=len(words),
            line_bytes=store.size_bytes(words[0]) + overhead if words else 0,
            blank=tuple(
                (made.name, store.size_bytes(made.words) + overhead)
                for made in transfer_list.stores
                if made.kind == "blank"
            ),
            entries=len(transfer_list.entries) * transfer_list.rules.entry_bytes + overhead,
            keep_back=keep_back_bytes,
            overhead=overhead,
        )

    def specials(self, frames: int) -> list[tuple[str, int]]:
        """Name and size of the items that lie whole, for so many frames."""
        arrays = [("entries" if n == 1 else f"entries {n}", self.entries) for n in range(1, frames + 1)]
        return [*self.blank, *arrays, *([("keep-back", self.keep_back)] if self.keep_back else [])]


def _rooms(
    special_bytes: Sequence[int], blocks_bytes: Sequence[int], line_bytes: int
) -> tuple[tuple[int, ...] | None, list[int]]:
    """Blocks of the special items, and what they leave of each block."""
    where, left = cheapest_blocks(special_bytes, blocks_bytes, line_bytes), list(blocks_bytes)
    for size, block in zip(special_bytes, where or (), strict=where is not None):
        left[block] -= size
    return where, left


def _frames_that_fit(sizes: _Sizes, blocks_bytes: Sequence[int], most: int) -> int:
    """Largest number of frames for which there is room; dropping a frame moves nothing else, so it may bisect."""
    free = sum(blocks_bytes) - sizes.keep_back - sum(size for _, size in sizes.blank)
    low, high = 0, max(0, min(most, free // max(sizes.line_bytes * sizes.rows + sizes.entries, 1)))
    while low < high:
        frames = (low + high + 1) // 2
        where, left = _rooms([size for _, size in sizes.specials(frames)], blocks_bytes, sizes.line_bytes)
        lines = sum(room // sizes.line_bytes for room in left) if sizes.rows else 0
        fits = where is not None and lines >= frames * sizes.rows
        low, high = (frames, high) if fits else (low, frames - 1)
    return low
