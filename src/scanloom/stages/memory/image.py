"""What really stands in RAM: the words of each store, syncs at their polarity."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.stages.memory.model import Store


@record
class SyncBits:
    """Bits of the word that carry the syncs, and the level they have inside the pulse.

    Parameters
    ----------
    h_mask : int
        Bits of horizontal sync. [1]
    v_mask : int
        Bits of vertical sync. [1]
    h_polarity : str
        ``+`` when the pulse is high.
    v_polarity : str
        ``+`` when the pulse is high.
    """

    h_mask: int
    v_mask: int
    h_polarity: str
    v_polarity: str

    def word(self, h_sync: bool, v_sync: bool) -> int:
        """Sync bits of a word.

        Parameters
        ----------
        h_sync : bool
            Whether inside the horizontal pulse.
        v_sync : bool
            Whether inside the vertical pulse.

        Returns
        -------
        int
            Word with colours off. [1]
        """
        h_on = h_sync == (self.h_polarity == "+")
        v_on = v_sync == (self.v_polarity == "+")
        return (self.h_mask if h_on else 0) | (self.v_mask if v_on else 0)


def store_words(store: Store, syncs: SyncBits, rows: Sequence[Sequence[int]]) -> list[int]:
    """Words of one store in the order they are sent.

    Parameters
    ----------
    store : Store
        A store of the transfer list.
    syncs : SyncBits
        Where the syncs are.
    rows : sequence of sequence of int
        Colour bits of each stored pixel, by image row. [1]

    Returns
    -------
    list of int
        One word for each pixel. [1]

    Raises
    ------
    ValueError
        If an image row is not as long as its place in the store.
    """
    words: list[int] = []
    for part in store.segments:
        base = syncs.word(part.h_sync, part.v_sync)
        if part.row is None:
            words.extend([base] * part.words)
            continue
        row = rows[part.row]
        if len(row) != part.words:
            raise ValueError(
                f"row {part.row} has {len(row)} pixels; {part.words} are stored; give the picture at the size of the plan"
            )
        words.extend(base | colour for colour in row)
    return words
