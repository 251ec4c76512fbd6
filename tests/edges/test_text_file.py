"""Text files at their edges: what is refused, and that nothing is ever half written."""

from __future__ import annotations

import codecs
import errno
import hashlib
import os
import signal
import stat
import subprocess
import sys
import threading
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scanloom.formats import text_write
from scanloom.formats.text_file import FileFault, line_end, read_text
from scanloom.formats.toml_edit import file_sha256, write_text_atomically

OLD = "a = 1  # älter\r\n"
NEW = "a = 2  # älter\r\n"
posix_only = pytest.mark.skipif(os.name != "posix", reason="pipes, permissions and folder locks as POSIX has them")


def refused(path: Path, **limits: int) -> FileFault:
    """The fault that reading a file gives; its sentence has the three parts of the house."""
    with pytest.raises(FileFault) as caught:
        read_text(path, **limits)
    fault = caught.value
    assert fault.path == path
    assert fault.text.count(";") == 2, fault.text
    place = f":{fault.line}:{fault.column}" if fault.line is not None else ""
    assert str(fault) == f"{path}{place}: {fault.text}"
    return fault


def test_text_comes_back_as_it_stands_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for raw in (b"", b"a", "é😀\r\nb\n\rc\x0b\u2028\n".encode()):
        path.write_bytes(raw)
        assert read_text(path).encode() == raw
    assert line_end(OLD) == "\r\n"
    assert line_end("a\r\nb\nc\n") == line_end("") == "\n"


def test_a_byte_order_mark_is_dropped_and_kept_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(codecs.BOM_UTF8 + OLD.encode())
    assert read_text(path) == OLD
    write_text_atomically(path, NEW, file_sha256(OLD))
    assert path.read_bytes() == codecs.BOM_UTF8 + NEW.encode()


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("deep-staton.toml", "did you mean {folder}/deep-station.toml?"),
        ("Deep-Station.TOML", "did you mean {folder}/deep-station.toml?"),
        ("other.bin", "look in {folder}"),
        ("playz/x.toml", "no such folder: playz; an existing folder is wanted; did you mean {folder}/plays?"),
        ("far/away/x.toml", "no such folder: far"),
        ("deep-station.toml/x", "a path leads through folders"),
        ("x" * 300, "cannot be read ("),
        ("a\0b", "cannot be read ("),
        ("plays", "a folder; a file is wanted"),
    ],
)
def test_a_missing_file_is_looked_for_nearby(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "deep-station.toml").write_text("")
    (tmp_path / "plays").mkdir()
    if name == "Deep-Station.TOML" and (tmp_path / name).exists():
        pytest.skip("this file system does not tell capitals apart")
    fault = refused(tmp_path / name)
    assert words.format(folder=tmp_path).replace("/", os.sep) in fault.text.replace("/", os.sep)
    assert fault.line is None


def test_a_folder_of_very_many_names_is_not_searched_for_ever(tmp_path: Path) -> None:
    for number in range(3000):
        (tmp_path / f"name-{number}.toml").touch()
    start = time.perf_counter()
    refused(tmp_path / "name-x.toml")
    assert time.perf_counter() - start < 2.0


def test_a_file_beyond_the_limit_does_not_come_into_memory(tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    tracemalloc.start()
    start = time.perf_counter()
    fault = refused(path)
    assert time.perf_counter() - start < 0.5
    assert tracemalloc.get_traced_memory()[1] < 200_000
    tracemalloc.stop()
    assert "50000000 B" in fault.text and "1000000 B" in fault.text


def test_the_limit_itself_is_allowed(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"x" * 1000)
    assert len(read_text(path, most_bytes=1000)) == 1000
    assert "at most 999 B" in refused(path, most_bytes=999).text
    with pytest.raises(ValueError, match="from 0 is allowed"):
        read_text(path, most_bytes=-1)


def test_a_file_that_grows_while_it_is_read_is_still_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"x")
    small = path.stat()
    path.write_bytes(b"x" * 2_000_000)
    monkeypatch.setattr(Path, "stat", lambda *_, **__: small)
    assert "at most 1000000 B" in refused(path).text


@pytest.mark.parametrize(
    ("raw", "line", "column", "words"),
    [
        (b"a = 1\n\xc3\xa9\xc3\xa9 \x00b", 2, 4, "a NUL byte"),
        (b"a = 1\n\xc3\xa9\xc3\xa9 caf\xe9 = 2", 2, 7, "the byte E9 (in the encoding cp1252: \u00e9)"),
        (b"\xff", 1, 1, "the byte FF"),
        (b"a\x81", 1, 2, "the byte 81 is not UTF-8"),
        (b"x = '\xe2\x82'\r\n", 1, 6, "is not UTF-8"),
        (b"x\n\xed\xa0\x80", 2, 1, "is not UTF-8"),
        (b"x\xe9\x00", 1, 2, "the byte E9"),
        (b"x\x00\xe9", 1, 2, "a NUL byte"),
        (codecs.BOM_UTF8 + b"x\xe9", 1, 2, "the byte E9"),
        (codecs.BOM_UTF16_LE + "a = 1\n".encode("utf-16-le"), 1, 1, "the file is UTF-16"),
        (codecs.BOM_UTF16_BE + "a = 1\n".encode("utf-16-be"), 1, 1, "the file is UTF-16"),
        (codecs.BOM_UTF32_LE + "a = 1\n".encode("utf-32-le"), 1, 1, "the file is UTF-32"),
        (codecs.BOM_UTF32_BE + "a = 1\n".encode("utf-32-be"), 1, 1, "the file is UTF-32"),
        ("a = 1\n".encode("utf-16-le"), 1, 2, "a NUL byte, as in UTF-16"),
    ],
)
def test_what_is_not_utf8_is_refused_with_its_place(
    tmp_path: Path, raw: bytes, line: int, column: int, words: str
) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(raw)
    fault = refused(path)
    assert (fault.line, fault.column) == (line, column)
    assert words in fault.text
    assert "save it as UTF-8" in fault.text


@posix_only
def test_pipes_devices_and_broken_links_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "a pipe or device" in refused(tmp_path / "pipe").text
    assert "a pipe or device" in refused(Path("/dev/zero")).text
    (tmp_path / "broken").symlink_to("nowhere")
    assert "a link to a file that is not there" in refused(tmp_path / "broken").text
    (tmp_path / "loop").symlink_to("loop")
    assert "cannot be read (" in refused(tmp_path / "loop").text


def test_a_file_without_permission_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.toml"
    path.write_text("a = 1")
    path.chmod(0)
    if os.name != "posix" or os.geteuid() == 0:  # root may read everything: let the system's answer be played

        def deny(*_: Any, **__: Any) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(Path, "open", deny)
    assert "you may not read it" in refused(path).text


def test_the_fingerprint_is_that_of_the_bytes() -> None:
    assert (
        file_sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    )  # NIST CAVP SHA256ShortMsg, Len = 0 (from memory)
    assert file_sha256(OLD) == hashlib.sha256(OLD.encode("utf-8")).hexdigest()
    with pytest.raises(ValueError, match=r"U\+D800"):
        file_sha256("a\ud800")


@pytest.fixture
def dossier(tmp_path: Path) -> Path:
    path = tmp_path / "folder" / "dossier.toml"
    path.parent.mkdir()
    path.write_bytes(OLD.encode())
    return path


def alone(path: Path) -> bool:
    """Whether the file is the only one in its folder."""
    return [entry.name for entry in path.parent.iterdir()] == [path.name]


def not_written(path: Path, text: str = NEW, expected: str | None = None) -> FileFault:
    """The fault that writing gives; its sentence has the three parts of the house."""
    with pytest.raises(FileFault) as caught:
        write_text_atomically(path, text, expected)
    assert caught.value.path == path
    assert caught.value.text.count(";") == 2, caught.value.text
    return caught.value


def test_a_written_file_holds_the_bytes_of_the_text(dossier: Path) -> None:
    fingerprint = write_text_atomically(dossier, NEW, file_sha256(OLD))
    assert dossier.read_bytes() == NEW.encode()
    assert fingerprint == file_sha256(NEW)
    assert write_text_atomically(dossier, "", fingerprint) == file_sha256("")
    assert dossier.read_bytes() == b""
    write_text_atomically(dossier.with_name("new.toml"), NEW, None)
    assert dossier.with_name("new.toml").read_bytes() == NEW.encode()
    assert len(list(dossier.parent.iterdir())) == 2


def test_a_file_that_changed_is_not_overwritten(dossier: Path) -> None:
    expected = file_sha256(OLD)
    dossier.write_bytes(b"somebody else's")
    assert "has changed since it was read" in not_written(dossier, expected=expected).text
    assert dossier.read_bytes() == b"somebody else's"
    assert alone(dossier)
    dossier.unlink()
    assert "is gone since it was read" in not_written(dossier, expected=expected).text
    assert not dossier.exists()


def test_a_change_at_the_last_moment_is_seen(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    honest = os.fsync

    def editor_saves(number: int) -> None:
        honest(number)
        dossier.write_bytes(b"somebody else's")

    monkeypatch.setattr(os, "fsync", editor_saves)
    assert "has changed since it was read" in not_written(dossier, expected=file_sha256(OLD)).text
    assert dossier.read_bytes() == b"somebody else's"
    assert alone(dossier)


def test_of_many_writers_with_the_same_expectation_one_wins(dossier: Path) -> None:
    """Without the lock several would pass the comparison before the first has written: changes would be lost."""
    for _ in range(5):
        expected = file_sha256(read_text(dossier))
        won: list[str] = []
        lost: list[FileFault] = []
        start = threading.Barrier(6)

        def write(text: str, expected: str = expected, start: threading.Barrier = start) -> None:
            start.wait()
            try:
                write_text_atomically(dossier, text, expected)
                won.append(text)  # noqa: B023
            except FileFault as fault:
                lost.append(fault)  # noqa: B023

        threads = [threading.Thread(target=write, args=(f"{time.time_ns()} {number}",)) for number in range(6)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(won) == 1 and len(lost) == 5
        assert read_text(dossier) == won[0]
        assert alone(dossier)


@posix_only
def test_another_writer_is_waited_for_but_not_for_ever(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    held = os.open(dossier.parent, os.O_RDONLY)
    fcntl.flock(held, fcntl.LOCK_EX)
    monkeypatch.setattr(text_write, "_LOCK_TRIES", 3)
    assert "another program is writing" in not_written(dossier).text
    monkeypatch.setattr(text_write, "_LOCK_TRIES", 100)
    timer = threading.Timer(0.1, os.close, args=(held,))
    timer.start()
    write_text_atomically(dossier, NEW, file_sha256(OLD))
    timer.join()
    assert read_text(dossier) == NEW


def full_disk(*_: Any, **__: Any) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def key_pressed(*_: Any, **__: Any) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("step", ["replace", "fsync", "fdopen"])
@pytest.mark.parametrize("new_file", [False, True])
def test_a_failure_at_any_step_leaves_the_old_file_and_nothing_else(
    dossier: Path, monkeypatch: pytest.MonkeyPatch, step: str, new_file: bool
) -> None:
    path = dossier.with_name("new.toml") if new_file else dossier
    monkeypatch.setattr(os, step, full_disk)
    fault = not_written(path, expected=None if new_file else file_sha256(OLD))
    assert "no space left on device" in fault.text
    assert dossier.read_bytes() == OLD.encode()
    assert alone(dossier)


def test_an_interrupt_leaves_the_old_file_and_goes_on(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "replace", key_pressed)
    with pytest.raises(KeyboardInterrupt):
        write_text_atomically(dossier, NEW, None)
    assert dossier.read_bytes() == OLD.encode()
    assert alone(dossier)


@posix_only
def test_the_file_is_on_the_disk_before_it_takes_the_name(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sync of the new file, rename, sync of the folder; a folder that cannot be synced is no failure."""
    calls: list[str] = []
    honest_sync, honest_replace = os.fsync, os.replace

    def sync(number: int) -> None:
        folder = stat.S_ISDIR(os.fstat(number).st_mode)
        calls.append("sync folder" if folder else "sync file")
        if folder:
            raise OSError(errno.EINVAL, "Invalid argument")
        honest_sync(number)

    def replace(source: Any, target: Any) -> None:
        calls.append("rename")
        honest_replace(source, target)

    monkeypatch.setattr(os, "fsync", sync)
    monkeypatch.setattr(os, "replace", replace)
    write_text_atomically(dossier, NEW, file_sha256(OLD))
    assert calls == ["sync file", "rename", "sync folder"]
    assert read_text(dossier) == NEW


WRITER = """
import sys
from pathlib import Path
from scanloom.formats.toml_edit import write_text_atomically
path, number = Path(sys.argv[1]), 0
while True:
    write_text_atomically(path, "ab"[number % 2] * 300_000, None)
    number += 1
    if number == 5:
        print("going", flush=True)
"""


@posix_only
@pytest.mark.parametrize("wait_s", [0.0, 0.0007, 0.0023])
def test_a_killed_writer_leaves_a_whole_file(tmp_path: Path, wait_s: float) -> None:
    path = tmp_path / "a.toml"
    source = str(Path(text_write.__file__).parents[2])
    command = [sys.executable, "-c", WRITER, str(path)]
    environment = {**os.environ, "PYTHONPATH": source}
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"going\n"
        time.sleep(wait_s)
        writer.send_signal(signal.SIGKILL)
    assert path.read_text() in ("a" * 300_000, "b" * 300_000)


@posix_only
def test_permissions_and_links_stay(dossier: Path) -> None:
    link = dossier.parent.parent / "link.toml"
    link.symlink_to(Path("folder") / "dossier.toml")
    for mode in (0o640, 0o604, 0o777, 0o600):
        dossier.chmod(mode)
        text = f"mode {mode:o}"
        write_text_atomically(link, text, None)
        assert stat.S_IMODE(dossier.stat().st_mode) == mode
        assert link.is_symlink() and read_text(link) == read_text(dossier) == text
    assert alone(dossier)
    assert not list(link.parent.glob(".*"))


@posix_only
def test_a_new_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    write_text_atomically(tmp_path / "one", "x", None)
    (tmp_path / "two").write_text("x")
    assert (tmp_path / "one").stat().st_mode == (tmp_path / "two").stat().st_mode


@posix_only
def test_the_owner_stays_when_root_writes(dossier: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("only root may give a file away")
    os.chown(dossier, 12345, 54321)
    write_text_atomically(dossier, NEW, None)
    assert (dossier.stat().st_uid, dossier.stat().st_gid) == (12345, 54321)


@pytest.mark.parametrize(
    ("prepare", "words"),
    [
        (lambda path: path.chmod(0o444), "write-protected"),
        (lambda path: (path.unlink(), path.mkdir()), "a folder; a file is wanted"),
        (lambda path: (path.unlink(), path.parent.rmdir()), "make its folder first"),
    ],
)
def test_what_must_not_be_replaced_is_refused(dossier: Path, prepare: Callable[[Path], object], words: str) -> None:
    prepare(dossier)
    assert words in not_written(dossier).text
    if dossier.is_file():
        assert dossier.read_bytes() == OLD.encode()
        assert alone(dossier)


@posix_only
def test_pipes_and_loops_of_links_are_not_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "a pipe or device" in not_written(tmp_path / "pipe").text
    (tmp_path / "loop").symlink_to("loop")
    assert "cannot be written" in not_written(tmp_path / "loop").text
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["loop", "pipe"]


def test_half_characters_are_refused_before_anything_is_touched(dossier: Path) -> None:
    with pytest.raises(ValueError, match=r"U\+DC80, behind 1 others"):
        write_text_atomically(dossier, "a\udc80", None)
    assert dossier.read_bytes() == OLD.encode()
    assert alone(dossier)
