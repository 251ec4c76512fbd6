"""From a picture to the words that leave the pins, by way of RAM: packed, listed, sent, laid out as lines.

Every step is the plan's own: the lane map says which bit is which, the transfer list which words are sent, the stream
how they lie in RAM. What comes back is what a display is given, so a fault of packing or of the list shows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from scanloom.stages.lanes import pack_words, unpack_words
from scanloom.stages.memory import ScanShape, SyncBits, TransferList, store_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.handbook.chip import Stream
    from scanloom.stages.lanes import Lane

ChannelKey = tuple[str, str]
"""A display and one of its channels: red, green, blue, or white for all of them."""


def colour_words(lanes: Sequence[Lane], numbers: Mapping[ChannelKey, NDArray[np.uint16]]) -> NDArray[np.uint32]:
    """Colour bits of every stored pixel, as one word each.

    Parameters
    ----------
    lanes : sequence of Lane
        Every bit of the word.
    numbers : Mapping
        Levels of each display's channel, shape (row, pixel), all alike in shape; a channel left out is black. [1]

    Returns
    -------
    ndarray of uint32, shape (rows, pixels)
        Words with syncs off. [1]

    Raises
    ------
    ValueError
        If no channel is given, shapes differ, or a number has more bits than its channel has lanes.
    """
    shapes = {given.shape for given in numbers.values()}
    if len(shapes) != 1:
        raise ValueError(f"pictures of {len(shapes)} sizes; one size is allowed; give every channel the stored size")
    bits: dict[ChannelKey, int] = {}
    words = np.zeros(shapes.pop(), dtype=np.uint32)
    for lane in lanes:
        key: ChannelKey = (lane.display, lane.carries)
        if lane.display and key in numbers:
            bits[key] = bits.get(key, 0) | 1 << lane.level_bit
            words |= ((numbers[key].astype(np.uint32) >> lane.level_bit) & 1) << lane.bit
    for key, given in numbers.items():
        most = int(given.max(initial=0))
        if most & ~bits.get(key, 0):
            raise ValueError(
                f"{'.'.join(key)}: a level of {most}; {bits.get(key, 0)} is the highest its lanes carry; give a lower one"
            )
    return words


def frame_bytes(
    words: NDArray[np.uint32], made: TransferList, syncs: SyncBits, stream: Stream
) -> tuple[NDArray[np.uint8], ...]:
    """RAM contents of every store of one frame.

    Parameters
    ----------
    words : ndarray of uint32, shape (rows, pixels)
        Colour bits of the stored pixels; indices of the colour table where the stream has one. [1]
    made : TransferList
        The transfer list.
    syncs : SyncBits
        Where the syncs are.
    stream : Stream
        How words lie in RAM.

    Returns
    -------
    tuple of ndarray of uint8, shape (bytes,)
        One a store, in the order of the list. [1]

    Raises
    ------
    ValueError
        If the picture is not of the stored size, or a word does not fit.
    """
    rows = sum(store.kind == "picture" for store in made.stores)
    if words.shape[0] != rows:
        raise ValueError(f"picture of {words.shape[0]} rows; the plan stores {rows}; give it at the size of the plan")
    as_lists = words.tolist()
    return tuple(
        pack_words(np.asarray(store_words(store, syncs, as_lists), dtype=np.uint32), stream) for store in made.stores
    )


def sent_words(stores: Sequence[NDArray[np.uint8]], made: TransferList, stream: Stream) -> NDArray[np.uint32]:
    """Words of one frame in the order they leave the pins.

    Parameters
    ----------
    stores : sequence of ndarray of uint8
        RAM contents of every store. [1]
    made : TransferList
        The transfer list.
    stream : Stream
        How words lie in RAM.

    Returns
    -------
    ndarray of uint32, shape (words,)
        One ring of the list. [1]
    """
    per, size = stream.words_per_read, stream.read_bytes
    runs = [
        stores[entry.store][entry.first_word // per * size : (entry.first_word + entry.words) // per * size]
        for entry in made.entries
    ]
    return unpack_words(np.concatenate(runs), stream)


def raster_words(words: NDArray[np.uint32], shape: ScanShape, *, hardware_syncs: bool = False) -> NDArray[np.uint32]:
    """Words of one frame as lines, each from its first active pixel; line 0 is the first active one.

    Parameters
    ----------
    words : ndarray of uint32, shape (words,)
        One ring of the transfer list. [1]
    shape : ScanShape
        Raster and picture.
    hardware_syncs : bool
        Whether the list holds picture words alone, and counters make blank time.

    Returns
    -------
    ndarray of uint32, shape (lines, pixels)
        The whole raster, blanking included: active part, front porch, sync, back porch. [1]

    Raises
    ------
    ValueError
        If the words do not fill the raster.
    """
    total = shape.h_total_px * shape.v_total_lines
    wanted = shape.picture_px * shape.picture_lines if hardware_syncs else total
    if words.size != wanted:
        raise ValueError(f"{words.size} words in a frame; the raster takes {wanted}; check the transfer list")
    if not hardware_syncs:
        # the ring starts with the picture's columns of line 0; what the display gets before them comes last
        return np.roll(words, shape.left_border_px).reshape(shape.v_total_lines, shape.h_total_px)
    made = np.zeros((shape.v_total_lines, shape.h_total_px), dtype=np.uint32)
    top, left = shape.top_border_lines, shape.left_border_px
    made[top : top + shape.picture_lines, left : left + shape.picture_px] = words.reshape(shape.picture_lines, -1)
    return made


def channel_numbers(words: NDArray[np.uint32], lanes: Sequence[Lane], display: str, channel: str) -> NDArray[np.uint16]:
    """Level of one channel in every word, put together from its lanes.

    Parameters
    ----------
    words : ndarray of uint32
        Words of any shape. [1]
    lanes : sequence of Lane
        Every bit of the word.
    display : str
        The display.
    channel : str
        red, green or blue; lanes of white feed each of them.

    Returns
    -------
    ndarray of uint16, of the same shape
        Number that the bits of the channel make. [1]
    """
    made = np.zeros(words.shape, dtype=np.uint16)
    for lane in lanes:
        if lane.display == display and lane.carries in (channel, "white"):
            made |= (((words >> np.uint32(lane.bit)) & np.uint32(1)) << np.uint32(lane.level_bit)).astype(np.uint16)
    return made


def colour_table(words: NDArray[np.uint32], entries: int) -> tuple[NDArray[np.uint32], NDArray[np.uint32]]:
    """Colour table of a picture, and the picture as indices into it.

    Parameters
    ----------
    words : ndarray of uint32, shape (rows, pixels)
        Colour bits of the stored pixels. [1]
    entries : int
        Entries the table has room for; black takes one. [entries]

    Returns
    -------
    tuple of ndarray of uint32
        The table, black first; and the indices, shape (rows, pixels). [1]

    Raises
    ------
    ValueError
        If the picture has more colours than the table holds.
    """
    colours = np.unique(np.append(words.reshape(-1), np.uint32(0)))
    if colours.size > entries:
        raise ValueError(
            f"picture of {colours.size} colours; the table holds {entries}; use fewer colours, or a stream without table"
        )
    return colours, np.searchsorted(colours, words).astype(np.uint32)
