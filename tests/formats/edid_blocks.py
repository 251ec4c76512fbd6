"""Identification blocks made byte by byte from the published table of bytes, for tests."""

from __future__ import annotations

from collections.abc import Sequence

HEADER = bytes.fromhex("00ffffffffffff00")
UNUSED = b"\x01\x01"
DUMMY = bytes.fromhex("000000100000000000000000000000000000")
# As public documents print the detailed timings of DMT 0x10, 0x55 and 0x52 (from memory); picture size left out.
TIMING_1024X768 = bytes.fromhex("64190040410026301888360000000000 0018")
TIMING_1280X720 = bytes.fromhex("011d007251d01e206e28550000000000 001e")
TIMING_1920X1080 = bytes.fromhex("023a801871382d40582c450000000000 001e")


def base(
    *,
    version: tuple[int, int] = (1, 3),
    video: int = 0x0E,
    size_cm: tuple[int, int] = (0, 0),
    established: str = "000000",
    standard: Sequence[bytes] = (),
    descriptors: Sequence[bytes] = (),
    extensions: int = 0,
    checksum: int | None = None,
) -> bytes:
    """A base block whose bytes add up, unless a checksum is given."""
    pairs = [*standard, *[UNUSED] * (8 - len(standard))]
    parts = [*descriptors, *[DUMMY] * (4 - len(descriptors))]
    raw = b"".join(
        (
            HEADER,
            bytes.fromhex("0421") + bytes(6) + bytes((1, 20)),  # 8 to 17: maker, product, serial, week, year
            bytes(version),
            bytes((video, *size_cm, 120, 0x08)),  # 20 to 24
            bytes(10),  # 25 to 34: colour
            bytes.fromhex(established),
            b"".join(pairs),
            b"".join(parts),
            bytes((extensions,)),
        )
    )
    assert len(raw) == 127
    return raw + bytes((-sum(raw) % 256 if checksum is None else checksum,))


def standard(width: int, aspect: int, rate: int) -> bytes:
    """Two bytes of a standard timing: width in eights, aspect code, rate."""
    return bytes((width // 8 - 31, aspect << 6 | (rate - 60)))


def ranges(
    v: tuple[int, int], h: tuple[int, int], clock: int, formula: int = 0, lift: int = 0, tail: bytes = bytes(7)
) -> bytes:
    """Range limits: rates as they stand in the bytes, clock in tens of megahertz, lift the bits of byte 4."""
    return bytes((0, 0, 0, 0xFD, lift, *v, *h, clock, formula)) + tail[:7].ljust(7, b"\0")


def named(text: str) -> bytes:
    """Name of the model."""
    return bytes((0, 0, 0, 0xFC, 0)) + (text.encode() + b"\n").ljust(13)[:13]


def more_standard(pairs: Sequence[bytes]) -> bytes:
    """Six more standard timings."""
    return bytes((0, 0, 0, 0xFA, 0)) + b"".join([*pairs, *[UNUSED] * (6 - len(pairs))]) + b"\n"


def detailed(
    clock_hz: int,
    h: tuple[int, int, int, int],
    v: tuple[int, int, int, int],
    *,
    border: tuple[int, int] = (0, 0),
    size_mm: tuple[int, int] = (0, 0),
    flags: int = 0x18,
) -> bytes:
    """A detailed timing; h and v are active part, blanking, offset of sync, sync."""

    def high(value: int, shift: int, to: int) -> int:
        return value >> shift << to

    ha, hb, ho, hs = h
    va, vb, vo, vs = v
    width, height = size_mm
    return (clock_hz // 10_000).to_bytes(2, "little") + bytes(
        (
            ha % 256,
            hb % 256,
            high(ha, 8, 4) | hb >> 8,
            va % 256,
            vb % 256,
            high(va, 8, 4) | vb >> 8,
            ho % 256,
            hs % 256,
            vo % 16 << 4 | vs % 16,
            high(ho, 8, 6) | high(hs, 8, 4) | high(vo, 4, 2) | vs >> 4,
            width % 256,
            height % 256,
            high(width, 8, 4) | height >> 8,
            *border,
            flags,
        )
    )


PROJECTOR = base(video=0x0E, established="3fcf80", descriptors=[ranges((50, 120), (30, 100), 17)])
"""What one projector's block says, as published with its support notes: EDID 1.3, byte 20, established timings, ranges."""
