"""The file on the disk, watched; and the stream that tells pages of a change."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

from scanloom.web.desk import Desk

PAUSE_S = 0.2
"""Time between two looks at the file. [s]"""
_BEAT_S = 15.0
_TURNS = 5  # looks at the dossier for each look at the board's files, which are many


class Watch:
    """Looks at the file from time to time and wakes whoever listens.

    Parameters
    ----------
    desk : Desk
        The open dossier.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.stopping = asyncio.Event()
        self._changed = asyncio.Condition()

    async def run(self) -> None:
        """Look until told to stop."""
        last, last_beside, turn = _signature(self.desk.path), self._beside(), 0
        while not self.stopping.is_set():
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self.stopping.wait(), PAUSE_S)
            now, beside = _signature(self.desk.path), self._beside()
            if now != last or beside != last_beside:
                changed = self.desk.reload(anew=beside != last_beside)
                last, last_beside = now, self._beside()
                if changed:
                    await self.tell()
            turn = (turn + 1) % _TURNS
            if await self._board(turn == 0):
                self.desk.version += 1
                await self.tell()
        await self.tell()

    async def _board(self, files: bool) -> bool:
        """Whether a review has ended, or its files have become others; these are read beside the loop."""
        if self.desk.board.collect():
            return True
        good = self.desk.good
        return files and good is not None and await asyncio.to_thread(self.desk.board.look_at_files, good)

    def _beside(self) -> dict[Path, object]:
        """What changes when a file that the dossier names is written."""
        return {path: _signature(path) for path in self.desk.beside()}

    async def tell(self) -> None:
        """Wake every listener."""
        async with self._changed:
            self._changed.notify_all()

    async def stream(self) -> AsyncIterator[str]:
        """Events for one page: the version of what is seen, at once and after each change.

        Yields
        ------
        str
            One server-sent event.
        """
        told = -1
        while not self.stopping.is_set():
            if told != self.desk.version:
                told = self.desk.version
                yield f"event: changed\ndata: {told}\n\n"
            try:
                async with self._changed:
                    await asyncio.wait_for(self._changed.wait(), _BEAT_S)
            except TimeoutError:
                yield ": still here\n\n"


def _signature(path: Path) -> tuple[int, int, int] | None:
    """What changes when a file is written: its time, size and number."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
