"""Text of a fabrication file, whatever encoding its program chose."""

from __future__ import annotations

import codecs

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def decoded(raw: bytes) -> tuple[str, str]:
    """Text of bytes, with lines ended alike.

    Parameters
    ----------
    raw : bytes
        The file.

    Returns
    -------
    tuple of str
        The text, and the encoding it was taken for; bytes without a mark that are not UTF-8 are read as Windows text.
    """
    for mark, name in _MARKS:
        if raw.startswith(mark):
            return _alike(raw[len(mark) :].decode(name, "replace")), name
    head = raw[:2000]
    if len(head) >= 4 and head[1::2].count(0) > len(head) // 3:  # UTF-16 that lost its mark
        return _alike(raw.decode("utf-16-le", "replace")), "utf-16-le"
    try:
        return _alike(raw.decode("utf-8")), "utf-8"
    except UnicodeDecodeError:
        return _alike(raw.decode("cp1252", "replace")), "cp1252"


def is_text(raw: bytes) -> bool:
    """Whether bytes look like text: no NUL at the start, but for those of UTF-16.

    Parameters
    ----------
    raw : bytes
        The file.

    Returns
    -------
    bool
        False for pictures, archives and the like.
    """
    head = raw[:2000]
    if any(head.startswith(mark) for mark, _ in _MARKS):
        return True
    nul = head.count(0)
    return nul == 0 or head[1::2].count(0) > len(head) // 3


def _alike(text: str) -> str:
    """One kind of line end."""
    return text.replace("\r\n", "\n").replace("\r", "\n")
