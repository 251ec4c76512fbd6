"""Identification blocks of displays: the 128-byte base block of EDID 1.0 to 1.4, byte by byte.

Layout as in the VESA Enhanced EDID standard, release A (1.3 and 1.4), from public tables of its bytes; what is marked
*from memory* was not read again. Extension blocks are counted and passed over.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from scanloom.dossier.edid import (
    DetailedTiming,
    EdidBlock,
    RangeFormula,
    RangeLimits,
    StandardTiming,
    SyncForm,
)
from scanloom.formats.input_error import InputError, InputFault
from scanloom.formats.text_file import FileFault, read_bytes
from scanloom.handbook.timings import Polarity

__all__ = ["DetailedTiming", "EdidBlock", "RangeLimits", "StandardTiming", "read_edid", "read_edid_file"]

_BLOCK = 128
_MOST_BYTES = 256 * _BLOCK  # a base block and the 255 extensions that one byte can announce
_HEADER = bytes.fromhex("00ffffffffffff00")
_READ = (1, 4)
_DESCRIPTORS = (54, 72, 90, 108)
# Bytes 35 to 37, most significant bit first. 720x400@88, 640x480@67, 832x624@75 and 1152x870@75 are of older makers'
# lists, not VESA's, and no table of the handbook holds them.
_ESTABLISHED = (
    "720x400@70 720x400@88 640x480@60 640x480@67 640x480@72 640x480@75 800x600@56 800x600@60",
    "800x600@72 800x600@75 832x624@75 1024x768@87i 1024x768@60 1024x768@70 1024x768@75 1280x1024@75",
    "1152x870@75",
)
_LEVELS_V = ((0.700, 0.300), (0.714, 0.286), (1.000, 0.400), (0.700, 0.000))
_SYNC_FORMS: tuple[SyncForm, ...] = ("analogue composite", "bipolar composite", "composite", "separate")
_FORMULAS: dict[int, RangeFormula] = {0: "gtf", 1: "none", 2: "gtf-2", 4: "cvt"}
_CVT_CODES, _MORE_STANDARD, _NAME, _RANGES, _ESTABLISHED_3 = 0xF8, 0xFA, 0xFC, 0xFD, 0xF7


def read_edid(data: bytes, shown: str = "the block") -> EdidBlock:
    """Base block of the bytes that a display's identification memory gives.

    Parameters
    ----------
    data : bytes
        The base block, alone or with its extension blocks behind it.
    shown : str
        What messages call it.

    Returns
    -------
    EdidBlock
        All that the base block states; a wrong checksum is noted, not refused.

    Raises
    ------
    InputError
        If the bytes are no base block; one fault.
    """
    fault = _fault(data)
    if fault:
        raise InputError((InputFault(shown, 0, 0, "", fault),))
    version = (data[18], data[19])
    standard = [_standard(data[at : at + 2], version) for at in range(38, 54, 2)]
    detailed: list[DetailedTiming] = []
    ranges: RangeLimits | None = None
    name = ""
    passed_over: list[str] = []
    for at in _DESCRIPTORS:
        part = data[at : at + 18]
        tag = part[3] if part[:2] == b"\0\0" else None
        if tag is None:
            timing = _detailed(part)
            if timing is None:
                passed_over.append(f"the detailed timing in bytes {at} to {at + 17}, whose figures make no raster")
            else:
                detailed.append(timing)
        elif tag == _RANGES and ranges is None:
            ranges = _ranges(part, version)
            if not ranges.v_usable or not ranges.h_usable:
                passed_over.append("range limits that start at zero or run downwards")
        elif tag == _NAME and not name:
            name = _text(part)
        elif tag == _MORE_STANDARD:  # from memory: six codes from byte 5
            standard.extend(_standard(part[n : n + 2], version) for n in range(5, 17, 2))
        elif tag in (_CVT_CODES, _ESTABLISHED_3):
            what = "codes of CVT timings" if tag == _CVT_CODES else "a third table of established timings"
            passed_over.append(f"{what} in bytes {at} to {at + 17}")
    width_mm, height_mm = _size(data[21], data[22], version)
    levels = None if data[20] & 0x80 else _LEVELS_V[data[20] >> 5 & 3]
    return EdidBlock(
        fingerprint=hashlib.sha256(data).hexdigest()[:12],
        version=version,
        digital=levels is None,
        white_v=levels[0] if levels else None,
        sync_v=levels[1] if levels else None,
        separate_sync=levels is not None and bool(data[20] & 8),
        composite_sync=levels is not None and bool(data[20] & 4),
        green_sync=levels is not None and bool(data[20] & 2),
        width_mm=width_mm,
        height_mm=height_mm,
        established=_established(data[35:38]),
        standard=tuple(timing for timing in standard if timing is not None),
        detailed=tuple(detailed),
        ranges=ranges,
        name=name,
        extensions=data[126],
        checksum_ok=sum(data[:_BLOCK]) % 256 == 0,
        passed_over=tuple(passed_over),
    )


def read_edid_file(path: Path, shown: str | None = None) -> EdidBlock:
    """Base block of a file.

    Parameters
    ----------
    path : Path
        The file: raw bytes as read from the display.
    shown : str or None
        The file as named by the user.

    Returns
    -------
    EdidBlock
        All that the base block states.

    Raises
    ------
    InputError
        If the file cannot be read or is no such block; one fault.
    """
    called = shown or str(path)
    try:
        data = read_bytes(path, _MOST_BYTES)
    except FileFault as error:
        raise InputError((InputFault(called, 0, 0, "", error.text),)) from None
    return read_edid(data, called)


def _fault(data: bytes) -> str:
    """What keeps the bytes from being a base block, empty when nothing does."""
    if data and not data.strip(b"0123456789abcdefABCDEF xX,:;\r\n\t"):
        return (
            "the file is hexadecimal text; the bytes themselves are wanted; turn the digits into bytes and save those"
        )
    if len(data) < _BLOCK:
        return f"{len(data)} B, cut short; {_BLOCK} B are wanted, or a multiple with extensions; read the display again"
    if len(data) % _BLOCK:
        return f"{len(data)} B; {_BLOCK} B are wanted, or a multiple with extensions; cut off the rest"
    if len(set(data[:_BLOCK])) == 1:
        return (
            f"every byte is {data[0]:02X}, so nothing answered; a block begins with {_HEADER.hex(' ').upper()}; "
            "read it again with the display plugged in and switched on"
        )
    if data[:8] != _HEADER:
        return (
            f"it begins with {data[:8].hex(' ').upper()}; a block begins with {_HEADER.hex(' ').upper()}; "
            "check that it is the file you mean, or read the display again"
        )
    if data[18] != _READ[0]:
        return (
            f"bytes 18 and 19 say version {data[18]}.{data[19]}; 1.0 to {_READ[0]}.{_READ[1]} are read; "
            "read the display again, or delete the line and state its rates"
        )
    return ""


def _size(width_cm: int, height_cm: int, version: tuple[int, int]) -> tuple[int | None, int | None]:
    """Size of the picture in millimetres; from 1.4 on one zero makes the other a ratio of sides, not a length."""
    if version >= (1, 4) and not (width_cm and height_cm):
        width_cm = height_cm = 0
    return width_cm * 10 or None, height_cm * 10 or None


def _established(bits: bytes) -> tuple[str, ...]:
    """Names of the established timings whose bits are set."""
    return tuple(
        name
        for byte, names in zip(bits, _ESTABLISHED, strict=True)
        for place, name in enumerate(names.split())
        if byte & 0x80 >> place
    )


def _standard(pair: bytes, version: tuple[int, int]) -> StandardTiming | None:
    """One standard timing, or none where the two bytes say unused."""
    if pair in (b"\x01\x01", b"\x00\x00"):  # zeros are not allowed, and yet met
        return None
    width = (pair[0] + 31) * 8
    across, down = ((16, 10), (4, 3), (5, 4), (16, 9))[pair[1] >> 6]
    if (across, down) == (16, 10) and version < (1, 3):
        across, down = 1, 1
    height = width * down // across
    # widths that are no multiple of 8, and heights that the ratio misses, by what the codes have come to mean
    if (across, down) == (16, 9):
        width, height = {1368: (1366, 768), 1360: (1360, 768)}.get(width, (width, height))
    return StandardTiming(pair.hex(), width, height, (pair[1] & 0x3F) + 60)


def _detailed(part: bytes) -> DetailedTiming | None:
    """One detailed timing, or none where picture or sync is missing or sync lies outside the blanking."""
    b = part
    flags = b[17]
    sync = _SYNC_FORMS[flags >> 3 & 3]
    separate = sync == "separate"
    timing = DetailedTiming(
        pixel_clock_hz=int.from_bytes(b[:2], "little") * 10_000,
        h_active_px=b[2] | (b[4] & 0xF0) << 4,
        h_blank_px=b[3] | (b[4] & 0x0F) << 8,
        h_offset_px=b[8] | (b[11] & 0xC0) << 2,
        h_sync_px=b[9] | (b[11] & 0x30) << 4,
        h_border_px=b[15],
        v_active_lines=b[5] | (b[7] & 0xF0) << 4,
        v_blank_lines=b[6] | (b[7] & 0x0F) << 8,
        v_offset_lines=b[10] >> 4 | (b[11] & 0x0C) << 2,
        v_sync_lines=b[10] & 0x0F | (b[11] & 0x03) << 4,
        v_border_lines=b[16],
        width_mm=b[12] | (b[14] & 0xF0) << 4,
        height_mm=b[13] | (b[14] & 0x0F) << 8,
        interlaced=bool(flags & 0x80),
        sync=sync,
        h_polarity=_polarity(flags & 2) if separate else None,
        v_polarity=_polarity(flags & 4) if separate else None,
    )
    whole = timing.h_active_px and timing.h_sync_px and timing.v_active_lines and timing.v_sync_lines
    inside = (
        timing.h_offset_px + timing.h_sync_px <= timing.h_blank_px
        and timing.v_offset_lines + timing.v_sync_lines <= timing.v_blank_lines
    )
    return timing if whole and inside else None


def _polarity(bit: int) -> Polarity:
    """Polarity of a sync whose bit is set or not."""
    return "+" if bit else "-"


def _ranges(part: bytes, version: tuple[int, int]) -> RangeLimits:
    """Range limits; from 1.4 on byte 4 lifts rates by 255 and CVT refines the clock (from memory)."""
    new = version >= (1, 4)
    v, h = (part[4] & 3, part[4] >> 2 & 3) if new else (0, 0)
    code = part[10]
    formula = _FORMULAS.get(code, "unknown") if new or code in (0, 2) else "unknown"
    clock_hz = part[9] * 10_000_000 - ((part[12] >> 2) * 250_000 if formula == "cvt" else 0)
    return RangeLimits(
        v_min_hz=part[5] + (255 if v == 3 else 0),
        v_max_hz=part[6] + (255 if v >= 2 else 0),
        h_min_hz=(part[7] + (255 if h == 3 else 0)) * 1000,
        h_max_hz=(part[8] + (255 if h >= 2 else 0)) * 1000,
        max_pixel_clock_hz=clock_hz if clock_hz > 0 else None,
        formula=formula,
    )


def _text(part: bytes) -> str:
    """Text of a descriptor, up to its line end; whatever is no plain letter becomes a question mark."""
    raw = part[5:].split(b"\n", 1)[0]
    return "".join(chr(c) if 32 <= c < 127 else "?" for c in raw).strip()
