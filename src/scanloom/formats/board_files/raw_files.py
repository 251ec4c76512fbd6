"""A folder or a zip of fabrication files as bytes, within bounds. Nothing is ever written or unpacked."""

from __future__ import annotations

import hashlib
import io
import stat
import zipfile
from dataclasses import replace
from itertools import islice
from pathlib import Path, PurePosixPath

from scanloom.basis.record import record
from scanloom.formats.input_error import InputError, InputFault

MOST_FILES = 300
"""Files of one set that are looked at. [1]"""
MOST_FILE_BYTES = 40_000_000
"""Largest single file. [B]"""
MOST_BYTES = 200_000_000
"""All files of a set together. [B]"""
_DEPTH = 2  # zips inside zips that are opened
_MOST_NAMES = 5000  # entries of a folder or a zip that are even counted


@record
class RawFile:
    """One file of a set.

    Parameters
    ----------
    name : str
        Path inside the set, with slashes.
    data : bytes
        Its bytes; empty when refused.
    refused : str
        Why it was not read; empty when it was.
    """

    name: str
    data: bytes
    refused: str = ""

    @property
    def sha256(self) -> str:
        """Fingerprint of the bytes."""
        return hashlib.sha256(self.data).hexdigest()


def raw_files(path: Path, shown: str) -> tuple[RawFile, ...]:
    """Every file of a folder or a zip.

    Parameters
    ----------
    path : Path
        Folder, zip, or a single file.
    shown : str
        The path as the user named it.

    Returns
    -------
    tuple of RawFile
        By name; what is too large, climbs out or is no ordinary file comes with the reason instead of bytes.

    Raises
    ------
    InputError
        If there is no such folder or zip, or it holds far too much.
    """
    try:
        if path.is_dir():
            return _opened(_of_folder(path, shown), shown)
        if path.is_file() and zipfile.is_zipfile(path):
            return _opened(_of_zip(path, shown), shown)
    except (OSError, zipfile.BadZipFile, ValueError) as error:
        raise _fault(shown, f"cannot be read ({error}); a folder or a zip of files is wanted; check it") from error
    if path.is_file():
        raise _fault(shown, "a single file that is no zip; a folder or a zip is wanted; name the folder it lies in")
    raise _fault(shown, "no such folder; a folder or a zip of fabrication files is wanted; check the path")


def _of_folder(path: Path, shown: str) -> tuple[RawFile, ...]:
    """Ordinary files below a folder; links that lead out of it stay closed."""
    root = path.resolve()
    found: list[RawFile] = []
    total = 0
    entries = list(islice(path.rglob("*"), _MOST_NAMES + 1))  # somebody may name a whole disk
    if len(entries) > _MOST_NAMES:
        raise _too_many(shown)
    for one in sorted(entries):
        inside = one.relative_to(path).as_posix()
        if any(part.startswith(".") for part in one.relative_to(path).parts):
            continue
        status = one.stat() if one.exists() else None
        if status is not None and stat.S_ISDIR(status.st_mode):
            continue
        if status is None or not stat.S_ISREG(status.st_mode):
            found.append(RawFile(inside, b"", "no ordinary file"))
        elif one.is_symlink() and not one.resolve().is_relative_to(root):
            found.append(RawFile(inside, b"", "a link that leads out of the folder"))
        elif refusal := _too_much(status.st_size, total, len(found)):
            found.append(RawFile(inside, b"", refusal))
        else:
            with one.open("rb") as file:
                data = file.read(MOST_FILE_BYTES + 1)
            total += len(data)
            found.append(RawFile(inside, data))
    return tuple(found)


def _opened(files: tuple[RawFile, ...], shown: str) -> tuple[RawFile, ...]:
    """A set whose zips are opened, and theirs once more: an order often lies as a zip beside its tables."""
    made = list(files)
    total = sum(len(one.data) for one in files)  # whatever is unpacked counts, at every depth
    for _ in range(_DEPTH):
        closed, made = made, []
        for number, one in enumerate(closed):
            if not one.name.lower().endswith(".zip") or not zipfile.is_zipfile(io.BytesIO(one.data)):
                made.append(one)
                continue
            try:
                inside = _of_zip(io.BytesIO(one.data), shown, total, len(made) + len(closed) - number)
            except (OSError, zipfile.BadZipFile, ValueError) as error:
                made.append(RawFile(one.name, b"", f"the zip is damaged ({error})"))
                continue
            total += sum(len(file.data) for file in inside)
            made.extend(replace(file, name=f"{one.name}/{file.name}") for file in inside)
    return tuple(made)


def _of_zip(path: Path | io.BytesIO, shown: str, total: int = 0, before: int = 0) -> tuple[RawFile, ...]:
    """Files of a zip, unpacked in memory and only as far as the bounds allow, whatever sizes it claims."""
    found: list[RawFile] = []
    seen: set[str] = set()
    with zipfile.ZipFile(path) as archive:
        entries = archive.infolist()
        if len(entries) > _MOST_NAMES:
            raise _too_many(shown)
        for entry in sorted(entries, key=lambda one: one.filename):
            name = entry.filename.replace("\\", "/")
            parts = PurePosixPath(name).parts
            if entry.is_dir() or any(part.startswith((".", "__MACOSX")) and part != ".." for part in parts):
                continue
            refusal = _too_much(entry.file_size, total, before + len(found))
            if name.startswith("/") or ".." in parts or ":" in name:
                refusal = "its path climbs out of the zip"
            elif name in seen:
                refusal = "the zip holds this name twice"
            elif entry.flag_bits & 1:
                refusal = "it is locked with a password"
            seen.add(name)
            if refusal:
                found.append(RawFile(name, b"", refusal))
                continue
            try:
                with archive.open(entry) as file:
                    data = file.read(MOST_FILE_BYTES + 1)
            except (zipfile.BadZipFile, NotImplementedError, OSError, EOFError, RuntimeError, ValueError) as error:
                found.append(RawFile(name, b"", f"the zip is damaged here ({error})"))
                continue
            except Exception as error:  # every packing method raises its own kind
                if type(error).__module__.partition(".")[0] not in ("zlib", "lzma", "bz2", "_lzma"):
                    raise
                found.append(RawFile(name, b"", f"the zip is damaged here ({error})"))
                continue
            total += len(data)
            if len(data) > MOST_FILE_BYTES:
                found.append(RawFile(name, b"", f"more than {MOST_FILE_BYTES} B; smaller files are read"))
            else:
                found.append(RawFile(name, data))
    return tuple(found)


def _too_much(size: int, total: int, files: int) -> str:
    """Why the next file would be too much; empty when it is not."""
    if size > MOST_FILE_BYTES:
        return f"{size} B; at most {MOST_FILE_BYTES} B of one file are read"
    if total + size > MOST_BYTES:
        return f"the set holds more than {MOST_BYTES} B"
    return f"the set holds more than {MOST_FILES} files" if files >= MOST_FILES else ""


def _too_many(shown: str) -> InputError:
    """Sentence for a set of thousands of names."""
    return _fault(
        shown, f"more than {_MOST_NAMES} names; a folder of one board's files is wanted; name that folder itself"
    )


def _fault(shown: str, text: str) -> InputError:
    """One fault of the whole set."""
    return InputError((InputFault(shown, 0, 0, "", text),))
