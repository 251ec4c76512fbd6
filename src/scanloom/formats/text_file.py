"""Text files, read whole or refused with one clear sentence."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from pathlib import Path

BOM = b"\xef\xbb\xbf"
_OTHER_BOMS = (
    (b"\xff\xfe\x00\x00", "UTF-32"),
    (b"\x00\x00\xfe\xff", "UTF-32"),
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
)
_MOST_NEIGHBOURS = 2000  # names of a folder looked through for a did-you-mean


class FileFault(Exception):
    """A file that cannot be read or written.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        What was given; what is allowed; what to do.
    line : int or None
        Line of the fault from 1, where it has one. [1]
    column : int or None
        Column of the fault in characters from 1. [1]
    """

    def __init__(self, path: Path, text: str, line: int | None = None, column: int | None = None) -> None:
        super().__init__(path, text, line, column)
        self.path = path
        self.text = text
        self.line = line
        self.column = column

    def __str__(self) -> str:
        """File, line, column and sentence."""
        place = "" if self.line is None else f":{self.line}:{self.column}"
        return f"{self.path}{place}: {self.text}"


def read_text(path: Path, most_bytes: int = 1_000_000) -> str:
    r"""Text of a file in UTF-8.

    Line ends stay as they are (``\r\n`` stays two characters), so that the text can be written back unchanged. A byte
    order mark of UTF-8 is dropped; `write_text_atomically` keeps it in a file that has one.

    Parameters
    ----------
    path : Path
        The file.
    most_bytes : int
        Largest file that is read; of a larger one nothing stays in memory. [B]

    Returns
    -------
    str
        The text.

    Raises
    ------
    FileFault
        If the file is missing, no ordinary file, too large, not readable or not text in UTF-8.
    ValueError
        If the limit is negative.
    """
    return _decoded(path, read_bytes(path, most_bytes))


def read_bytes(path: Path, most_bytes: int) -> bytes:
    """All bytes of a file.

    Parameters
    ----------
    path : Path
        The file.
    most_bytes : int
        Largest file that is read; of a larger one nothing stays in memory. [B]

    Returns
    -------
    bytes
        The bytes.

    Raises
    ------
    FileFault
        If the file is missing, no ordinary file, too large or not readable.
    ValueError
        If the limit is negative.
    """
    if most_bytes < 0:
        raise ValueError(f"most_bytes {most_bytes}; a number of bytes from 0 is allowed; give one")
    try:
        status = path.stat()
        ask_ordinary(path, status)
        if status.st_size > most_bytes:
            raise _too_large(path, status.st_size, most_bytes)
        with path.open("rb") as file:
            raw = file.read(most_bytes + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL inside the path
        raise _unopened(path, error) from error
    if len(raw) > most_bytes:  # grew meanwhile, or states no size
        raise _too_large(path, len(raw), most_bytes)
    return raw


def line_end(text: str) -> str:
    r"""Line end that a text uses most.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        ``\r\n`` or ``\n``.
    """
    paired = text.count("\r\n")
    return "\r\n" if 2 * paired > text.count("\n") else "\n"


def _decoded(path: Path, raw: bytes) -> str:
    """Text of the bytes, or what keeps them from being text."""
    for mark, name in _OTHER_BOMS:
        if raw.startswith(mark):
            raise FileFault(path, f"the file is {name}; only UTF-8 is read; save it as UTF-8", 1, 1)
    raw = raw.removeprefix(BOM)
    try:
        text = raw.decode("utf-8")
        bad = len(raw)
    except UnicodeDecodeError as error:
        text, bad = "", error.start
    nul = raw.find(b"\0", 0, bad)
    if nul >= 0:
        given = "a NUL byte, as in UTF-16 or in a file that is not text"
        raise FileFault(path, f"{given}; only text in UTF-8 is read; save it as UTF-8", *_place(raw, nul))
    if bad < len(raw):
        byte = raw[bad : bad + 1]
        guess = byte.decode("cp1252", "replace")
        shown = f" (in the encoding cp1252: {guess})" if guess.isprintable() and guess != "\ufffd" else ""
        given = f"the byte {byte[0]:02X}{shown} is not UTF-8 here"
        raise FileFault(path, f"{given}; only text in UTF-8 is read; save it as UTF-8", *_place(raw, bad))
    return text


def _place(raw: bytes, at: int) -> tuple[int, int]:
    """Line and column of a byte, columns in characters."""
    start = raw.rfind(b"\n", 0, at) + 1
    return raw.count(b"\n", 0, at) + 1, len(raw[start:at].decode("utf-8", "replace")) + 1


def ask_ordinary(path: Path, status: os.stat_result) -> None:
    """Refuse folders and whatever else is not an ordinary file; opening a pipe would wait for ever.

    Parameters
    ----------
    path : Path
        The file, as the user named it.
    status : os.stat_result
        What the system says about it.

    Raises
    ------
    FileFault
        If it is a folder, a pipe or a device.
    """
    if stat.S_ISDIR(status.st_mode):
        raise FileFault(path, "a folder; a file is wanted; name the file inside it")
    if not stat.S_ISREG(status.st_mode):
        raise FileFault(path, "a pipe or device; an ordinary file is wanted; save the text to a file first")


def _too_large(path: Path, size: int, most_bytes: int) -> FileFault:
    """Sentence for a file beyond the limit."""
    return FileFault(path, f"{size} B or more; at most {most_bytes} B are read; check that it is the file you mean")


def _unopened(path: Path, error: OSError | ValueError) -> FileFault:
    """Sentence for a file that the system does not open."""
    code = error.errno if isinstance(error, OSError) else None
    if code == errno.ENOENT:
        return _missing(path)
    if code == errno.ENOTDIR:
        return FileFault(path, "a part of this path is a file, not a folder; a path leads through folders; correct it")
    if code in (errno.EACCES, errno.EPERM):
        return FileFault(path, "you may not read it; a file you may read is wanted; change its permissions")
    reason = (os.strerror(code) if code else str(error)).lower()
    return FileFault(path, f"cannot be read ({reason}); a readable file is wanted; check path and disk")


def _missing(path: Path) -> FileFault:
    """Sentence for a file that is not there, with names that come near."""
    if path.is_symlink():
        return FileFault(path, "a link to a file that is not there; an existing file is wanted; mend the link")
    folder, wanted = path.parent, path.name
    while not folder.is_dir() and folder != folder.parent:
        folder, wanted = folder.parent, folder.name
    names: dict[str, str] = {}
    with contextlib.suppress(OSError):
        for entry, _ in zip(folder.iterdir(), range(_MOST_NEIGHBOURS), strict=False):
            names.setdefault(entry.name.lower(), entry.name)
    import difflib  # only for a sentence

    near = difflib.get_close_matches(wanted.lower(), names, n=1)
    kind = "file" if wanted == path.name and folder == path.parent else "folder"
    mend = f"did you mean {folder / names[near[0]]}?" if near else f"look in {folder}"
    return FileFault(path, f"no such {kind}: {wanted}; an existing {kind} is wanted; {mend}")
