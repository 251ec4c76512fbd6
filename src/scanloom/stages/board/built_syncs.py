"""Which chip pins drive the syncs of each connector, as the files have it."""

from __future__ import annotations

from scanloom.basis.record import record


@record
class BuiltSync:
    """One sync of one connector as the files have it.

    Parameters
    ----------
    connector : str
        The connector.
    axis : str
        h or v.
    fed_by : tuple of int
        Chip pins that drive it. [1]
    traced : bool
        Whether every part on the way could be followed; if not, other pins may drive it too.
    """

    connector: str
    axis: str
    fed_by: tuple[int, ...]
    traced: bool
