"""Files, written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from scanloom.formats.text_file import BOM, FileFault, ask_ordinary

_LOCK_TRIES, _LOCK_PAUSE_S = 100, 0.02


def file_sha256(text: str) -> str:
    """Fingerprint of a text as a file holds it, a byte order mark not counted.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        SHA-256 of its UTF-8, in hexadecimal.
    """
    return hashlib.sha256(_encoded(text)).hexdigest()


def write_text_atomically(path: Path, text: str, expected_sha256: str | None) -> str:
    """Write a text so that the file holds the old text or the new one, never a part.

    The new text goes to a file beside the old one, is forced to the disk and takes the old one's name. Permissions
    stay, a link is followed to its target, a byte order mark stays. Writers that use this function wait for each other.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        The new text.
    expected_sha256 : str or None
        `file_sha256` of the text that the file is expected to hold; None writes whatever is there.

    Returns
    -------
    str
        `file_sha256` of the new text, to be expected at the next writing.

    Raises
    ------
    FileFault
        If the file holds another text than expected, or cannot be written; it is then as it was.
    ValueError
        If the text has characters that UTF-8 cannot hold.
    """
    raw = _encoded(text)
    _replace(path, raw, expected_sha256, keeps_mark=True)
    return hashlib.sha256(raw).hexdigest()


def write_bytes_atomically(path: Path, raw: bytes) -> None:
    """Write bytes so that the file holds the old ones or the new ones, never a part.

    Parameters
    ----------
    path : Path
        The file; whatever it holds is replaced.
    raw : bytes
        The new bytes.

    Raises
    ------
    FileFault
        If it cannot be written; it is then as it was.
    """
    _replace(path, raw, None, keeps_mark=False)


def _replace(path: Path, raw: bytes, expected_sha256: str | None, *, keeps_mark: bool) -> None:
    """New bytes in the place of a file's old ones."""
    try:
        target = path.resolve()
        with _folder_held(path, target.parent) as folder:
            old = _status_of_old(path, target)
            bom = _compare(path, target, old, expected_sha256)
            spare = target.with_name(f".{os.urandom(6).hex()}.tmp")
            try:
                _write_through(spare, bom + raw if keeps_mark else raw, old)
                _compare(path, target, old, expected_sha256)  # again: an editor knows nothing of our lock
                spare.replace(target)
            except BaseException:
                with contextlib.suppress(OSError):
                    spare.unlink()
                raise
            if folder is not None:
                with contextlib.suppress(OSError):  # the new text is in place; some file systems cannot sync a folder
                    os.fsync(folder)
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a link to itself, before Python 3.13
        raise _unwritten(path, error) from error


def _encoded(text: str) -> bytes:
    """UTF-8 of a text."""
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        given = f"half a character, U+{ord(text[error.start]):04X}, behind {error.start} others"
        raise ValueError(f"{given}; UTF-8 holds whole ones; take it out of the text") from error


def _unwritten(path: Path, error: OSError | ValueError | RuntimeError) -> FileFault:
    """Sentence for a file that could not be written."""
    code = error.errno if isinstance(error, OSError) else None
    reason = (os.strerror(code) if code else str(error)).lower()
    allowed, mend = "the file is as it was", "check disk and permissions, then try again"
    if code == errno.ENOENT:
        mend = "make its folder first"
    return FileFault(path, f"cannot be written ({reason}); {allowed}; {mend}")


@contextlib.contextmanager
def _folder_held(path: Path, folder: Path) -> Iterator[int | None]:
    """Folder kept from other writers; where the system cannot, it is only opened, or nothing is done."""
    if os.name != "posix":
        yield None
        return
    import fcntl

    try:
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except PermissionError:  # a folder that may be written but not listed
        yield None
        return
    try:
        for attempt in range(_LOCK_TRIES + 1):
            try:
                fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if attempt == _LOCK_TRIES:
                    text = "another program is writing in this folder; one at a time may; try again when it is done"
                    raise FileFault(path, text) from None
                time.sleep(_LOCK_PAUSE_S)
            except OSError:  # a file system without locks: the comparison of hashes remains
                break
        yield opened
    finally:
        os.close(opened)


def _status_of_old(path: Path, target: Path) -> os.stat_result | None:
    """Status of the file to be replaced, or None; refuses what must not be replaced."""
    try:
        status = target.stat()
    except FileNotFoundError:
        return None
    ask_ordinary(path, status)
    if not status.st_mode & 0o222 or not os.access(target, os.W_OK):
        raise FileFault(path, "the file is write-protected; only writable files are changed; change its permissions")
    return status


def _compare(path: Path, target: Path, old: os.stat_result | None, expected_sha256: str | None) -> bytes:
    """Byte order mark of the old file; refuses when its text is not the expected one."""
    if old is None and expected_sha256 is None:
        return b""
    try:
        with target.open("rb") as file:
            bom = file.read(len(BOM))
            if bom != BOM:
                bom = b""
                file.seek(0)
            found = None if expected_sha256 is None else hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        if expected_sha256 is None:
            return b""
        text = "the file is gone since it was read; only a file still there is changed; save it under this name again"
        raise FileFault(path, text) from None
    if found != expected_sha256:
        text = "the file has changed since it was read; nothing is overwritten unseen; read it again and repeat"
        raise FileFault(path, text)
    return bom


def _write_through(spare: Path, raw: bytes, old: os.stat_result | None) -> None:
    """New file on the disk, with the old one's permissions."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(spare, flags, 0o666 if old is None else 0o600), "wb") as file:
        file.write(raw)
        file.flush()
        if old is not None and os.name == "posix":
            now = os.fstat(file.fileno())
            if (now.st_uid, now.st_gid) != (old.st_uid, old.st_gid):
                with contextlib.suppress(OSError):  # only root may give a file away
                    os.fchown(file.fileno(), old.st_uid, old.st_gid)
            os.fchmod(file.fileno(), stat.S_IMODE(old.st_mode))
        os.fsync(file.fileno())
