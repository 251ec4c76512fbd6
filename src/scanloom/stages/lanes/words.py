"""Words to bytes in the order the chip sends them, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanloom.handbook.chip import Stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def pack_words(words: NDArray[np.uint32], stream: Stream) -> NDArray[np.uint8]:
    """Lay words down as the DMA must find them.

    Parameters
    ----------
    words : ndarray of uint32, shape (words,)
        Words in the order they are to be sent; a whole number of read units. [1]
    stream : Stream
        Rules of the stream.

    Returns
    -------
    ndarray of uint8, shape (bytes,)
        RAM contents from the lowest address. [1]

    Raises
    ------
    ValueError
        If the words do not fill whole read units or do not fit the lanes.
    """
    import numpy as np

    per = stream.words_per_read
    given = np.asarray(words, dtype=np.uint64)
    if given.ndim != 1 or given.size % per:
        raise ValueError(
            f"{given.size} words do not fill whole reads; multiples of {per} are allowed; pad the run or change its length"
        )
    if given.size and int(given.max()) >> stream.stored_bits:
        bits = f"{stream.stored_bits} bits" if stream.table else f"{stream.lanes} lanes"
        raise ValueError(f"a word of {int(given.max()):#x} does not fit {bits}; clear the bits above")
    units = np.zeros(given.size // per, dtype=np.uint64)
    for number, slot in enumerate(stream.order):
        units |= given[number::per] << np.uint64(slot * stream.slot_bits)
    return np.ascontiguousarray(units.astype("<u8").view(np.uint8).reshape(-1, 8)[:, : stream.read_bytes]).reshape(-1)


def unpack_words(data: NDArray[np.uint8], stream: Stream) -> NDArray[np.uint32]:
    """Words in the order the chip sends them, from RAM contents.

    Parameters
    ----------
    data : ndarray of uint8, shape (bytes,)
        RAM contents from the lowest address; a whole number of read units. [1]
    stream : Stream
        Rules of the stream.

    Returns
    -------
    ndarray of uint32, shape (words,)
        Words in the order sent. [1]

    Raises
    ------
    ValueError
        If the bytes are no whole number of read units.
    """
    import numpy as np

    given = np.asarray(data, dtype=np.uint8)
    if given.ndim != 1 or given.size % stream.read_bytes:
        raise ValueError(
            f"{given.size} bytes are no whole reads; multiples of {stream.read_bytes} are allowed; check the run's length"
        )
    wide = np.zeros((given.size // stream.read_bytes, 8), dtype=np.uint8)
    wide[:, : stream.read_bytes] = given.reshape(-1, stream.read_bytes)
    units = wide.reshape(-1).view("<u8").astype(np.uint64)
    words = np.empty(units.size * stream.words_per_read, dtype=np.uint32)
    mask = np.uint64((1 << stream.stored_bits) - 1)
    for number, slot in enumerate(stream.order):
        words[number :: stream.words_per_read] = (units >> np.uint64(slot * stream.slot_bits)) & mask
    return words
