"""What the identification block says about itself and about the input: checksum, syncs, parts not read."""

from __future__ import annotations

from collections.abc import Iterator

from scanloom.basis.fact import Known
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading

OLDEST, NEWEST = (1, 3), (1, 4)
"""Versions whose every byte is known; others are read as far as they go."""


def judge_identity(reading: Reading, display: Display, identity: Known[EdidBlock] | None) -> tuple[Verdict, ...]:
    """Judge the block of one display; none without a block.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    display : Display
        The display.
    identity : Known or None
        Its block, or the copied block of one it is the same as.

    Returns
    -------
    tuple of Verdict
        Separate syncs; of the display's own block also its checksum, and a note on what is not read.
    """
    if identity is None:
        return ()
    read = reading.fork()
    block = read(identity)
    verdicts = [_syncs(read, display.name, block)]
    if identity.facts[0].key == f"displays.{display.name}.edid":  # of a copied block its own display says the rest
        verdicts.append(_checksum(read, display.name, block))
        left = "; ".join(_left(block))
        if left:
            says = f"The identification block of {display.name} is read but for this: {left}."
            verdicts.append(
                read.verdict("screens.edid", f"displays.{display.name}.edid", "note", says, state="unknown")
            )
    return tuple(verdicts)


def takes_no_separate_syncs(identity: Known[EdidBlock] | None) -> bool:
    """Whether a display's block says that its analogue input does without separate syncs.

    Parameters
    ----------
    identity : Known or None
        The block of the display.

    Returns
    -------
    bool
        False without a block, and for the block of a digital input, which says nothing of the analogue one.
    """
    return identity is not None and not identity.value.digital and not identity.value.separate_sync


def _syncs(read: Reading, name: str, block: EdidBlock) -> Verdict:
    """Whether the input takes the syncs that the board sends: two lines of their own beside analogue colours."""
    settle = Settle(
        f"Read the block of {name} again, through the 15-pin connector.",
        "an analogue block that declares separate syncs",
        "the same block",
        10,
        f"displays.{name}.edid",
    )
    if block.digital:
        wrong = (
            f"The identification block of {name} is that of a digital input, and the 15-pin connector carries analogue "
            f"colours only: read the block of its analogue input, or swap {name}."
        )
    else:
        kinds = (("composite sync", block.composite_sync), ("sync on green", block.green_sync))
        takes = " and ".join(kind for kind, taken in kinds if taken) or "no sync at all"
        wrong = f"{name} takes {takes}, not the separate syncs that the board sends: swap {name}."
    return read.verdict(
        "screens.separate-sync",
        f"displays.{name}",
        "stop",
        {"holds": f"{name} takes separate syncs.", "fails": wrong, "unknown": ""},
        state="holds" if block.separate_sync else "fails",
        settle=settle,
    )


def _checksum(read: Reading, name: str, block: EdidBlock) -> Verdict:
    """Whether the bytes of the block add up."""
    settle = Settle(
        f"Read the block of {name} again, twice, and compare.",
        "bytes that add up to a multiple of 256",
        "the same bytes: the display stores them wrong",
        10,
        f"displays.{name}.edid",
    )
    return read.verdict(
        "screens.checksum",
        f"displays.{name}.edid",
        "caution",
        {
            "holds": f"The bytes of the identification block of {name} add up.",
            "fails": f"The bytes of the identification block of {name} do not add up, so all it states is a guess.",
            "unknown": "",
        },
        state="holds" if block.checksum_ok else "fails",
        settle=settle,
    )


def _left(block: EdidBlock) -> Iterator[str]:
    """What of a block is not read, or not as its version has it."""
    version = f"{block.version[0]}.{block.version[1]}"
    if block.version < OLDEST:
        yield f"it is of version {version}, older than 1.3, and read as far as that goes"
    elif block.version > NEWEST:
        yield f"it is of version {version}, newer than 1.4, and read as if of 1.4"
    if block.extensions:
        yield f"{block.extensions} extension block{'s are' if block.extensions > 1 else ' is'} passed over"
    if block.passed_over:
        yield f"passed over: {', '.join(block.passed_over)}"
