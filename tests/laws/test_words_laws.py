"""Packing words and unpacking them, in the order each chip sends them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanloom.handbook.chip import Stream
from scanloom.handbook.chips import chip, chip_names
from scanloom.stages.lanes import pack_words, unpack_words
from scanloom.stages.lanes.crossings import count_crossings

STREAMS = [(name, stream) for name in chip_names() for stream in chip(name).table.stream]


@pytest.mark.parametrize(("name", "stream"), STREAMS, ids=lambda v: v if isinstance(v, str) else v.name)
@given(st.data())
def test_pack_then_unpack(name: str, stream: Stream, data: st.DataObject) -> None:
    reads = data.draw(st.integers(0, 6))
    words = data.draw(
        st.lists(
            st.integers(0, (1 << stream.stored_bits) - 1),
            min_size=reads * stream.words_per_read,
            max_size=reads * stream.words_per_read,
        )
    )
    packed = pack_words(np.array(words, dtype=np.uint32), stream)
    assert packed.dtype == np.uint8 and packed.size == reads * stream.read_bytes
    assert unpack_words(packed, stream).tolist() == words


def test_orders_of_the_handbook() -> None:
    """wifi240: byte i goes to address i xor 2, 16-bit sample i to index i xor 1 (public driver documentation of the class,
    recalled); rp2040: first word in the lowest bits of a little-endian 32-bit read (its datasheet, chapter 3)."""
    eight, sixteen = (next(s for s in chip("wifi240").table.stream if s.lanes == n) for n in (8, 16))
    assert pack_words(np.array([1, 2, 3, 4], dtype=np.uint32), eight).tolist() == [3, 4, 1, 2]
    assert pack_words(np.array([0x0102, 0x0304], dtype=np.uint32), sixteen).tolist() == [0x04, 0x03, 0x02, 0x01]
    six = next(s for s in chip("rp2040").table.stream if s.lanes == 6)
    assert pack_words(np.array([1, 2, 3, 4, 5], dtype=np.uint32), six).tolist() == list(
        (1 | 2 << 6 | 3 << 12 | 4 << 18 | 5 << 24).to_bytes(4, "little")
    )


def test_words_that_do_not_fit_are_refused() -> None:
    eight = next(s for s in chip("wifi240").table.stream if s.lanes == 8)
    with pytest.raises(ValueError, match="multiples of 4"):
        pack_words(np.array([1, 2, 3], dtype=np.uint32), eight)
    with pytest.raises(ValueError, match="does not fit 8 lanes"):
        pack_words(np.array([1, 2, 3, 256], dtype=np.uint32), eight)
    with pytest.raises(ValueError, match="whole reads"):
        unpack_words(np.array([1, 2], dtype=np.uint8), eight)


@given(st.integers(2, 9).flatmap(lambda n: st.tuples(st.permutations(range(n)), st.permutations(range(n)))))
def test_crossings_equal_a_count_of_every_cut(orders: tuple[list[int], list[int]]) -> None:
    around, wanted = orders
    best = None
    for cut in range(len(around)):
        turned = around[cut:] + around[:cut]
        seen = [turned.index(pin) for pin in wanted]
        crossings = sum(seen[i] > seen[j] for i in range(len(seen)) for j in range(i + 1, len(seen)))
        best = crossings if best is None else min(best, crossings)
    assert count_crossings(around, wanted) == best


def test_crossings_of_unknown_pins() -> None:
    assert count_crossings([1, 2, 3], [1, 9]) is None
    assert count_crossings([1, 2, 3], [3, 1, 2]) == 0
