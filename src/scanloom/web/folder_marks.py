"""Fingerprints of a folder or a zip: one of its contents, and a quick one that changes when a file is written."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

_MOST_NAMES = 1200


def files_mark(path: Path) -> str:
    """Fingerprint of a folder's or a zip's files as they are now.

    Parameters
    ----------
    path : Path
        Folder or zip.

    Returns
    -------
    str
        The same as that of a review which read just these.

    Raises
    ------
    InputError
        If there is no such folder or zip.
    """
    from scanloom.formats.board_files.raw_files import raw_files  # its package loads the readers, arrays and all

    return names_mark((raw.name, raw.sha256) for raw in raw_files(path, path.name))


def names_mark(named: Iterable[tuple[str, str]]) -> str:
    """Fingerprint of names and contents.

    Parameters
    ----------
    named : iterable of tuple of str
        Names, and fingerprints of what they hold.

    Returns
    -------
    str
        Sixteen hexadecimal digits.
    """
    return hashlib.sha256("\n".join("\t".join(pair) for pair in sorted(named)).encode()).hexdigest()[:16]


def signature(path: Path) -> tuple[object, ...]:
    """What changes at once when a file is written: names, times, sizes; no content is read.

    Parameters
    ----------
    path : Path
        Folder, zip or file.

    Returns
    -------
    tuple
        Empty where there is nothing.
    """
    made: list[object] = []
    try:
        for one in [path] if path.is_file() else path.rglob("*"):
            status = one.stat()
            made.append((one.as_posix(), status.st_mtime_ns, status.st_size, status.st_ino))
            if len(made) > _MOST_NAMES:
                break
    except OSError:
        return ("unreadable",)
    return tuple(sorted(made, key=repr))
