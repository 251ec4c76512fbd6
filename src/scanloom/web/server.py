"""The server: one dossier on the loopback address, until told to stop."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import secrets
import socket
import threading
import webbrowser
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from types import FrameType

import uvicorn
from starlette.types import ASGIApp, Receive, Scope, Send

from scanloom.web.desk import Desk
from scanloom.web.guard import Guard
from scanloom.web.routes import Pages
from scanloom.web.watch import Watch

HOST = "127.0.0.1"


class _Server(uvicorn.Server):
    """A server that ends its event streams before it waits for them."""

    def __init__(self, config: uvicorn.Config, stop: Callable[[], None], ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._stop = stop
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, and say so."""
        await super().startup(sockets=sockets)
        self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then the rest."""
        self._stop()
        await super().shutdown(sockets=sockets)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop at the first request, without waiting for open pages."""
        self._stop()
        super().handle_exit(sig, frame)


class Page:
    """A page that is being served.

    Parameters
    ----------
    path : Path
        The dossier.
    shown : str
        The dossier as named by the user.
    port : int
        Port to listen on; 0 for any free one. [1]

    Raises
    ------
    OSError
        If the port is taken.
    """

    def __init__(self, path: Path, shown: str, port: int = 0) -> None:
        self.desk = Desk(path, shown)
        self.token = secrets.token_urlsafe(24)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((HOST, port))
        except OSError:
            self._socket.close()
            raise
        self.port = int(self._socket.getsockname()[1])
        self.address = f"http://{HOST}:{self.port}/"
        self._loop: asyncio.AbstractEventLoop | None = None
        self._watch: Watch | None = None
        self._server: _Server | None = None
        self.ready = threading.Event()

    def serve(self, on_ready: Callable[[], None] = lambda: None) -> None:
        """Serve until told to stop.

        Parameters
        ----------
        on_ready : callable
            Called once pages are answered.
        """

        def ready() -> None:
            gc.freeze()  # what is loaded by now stays; looking through it again and again is what made single edits slow
            self.ready.set()
            on_ready()

        self.desk.reload()
        self._server = _Server(self._config(self._app()), self._stop_streams, ready)
        with contextlib.suppress(KeyboardInterrupt):
            self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """Stop serving; may be called from another thread."""
        if self._server is not None:
            self._server.should_exit = True
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._stop_streams)

    def open_browser(self) -> None:
        """Show the page in the user's browser, from a thread of its own, since some wait until it is closed."""
        threading.Thread(target=webbrowser.open, args=(self.address,), daemon=True).start()

    def _stop_streams(self) -> None:
        """Tell every event stream that it is over."""
        if self._watch is not None:
            self._watch.stopping.set()

    def _app(self) -> ASGIApp:
        """Everything, made inside the loop that runs it."""
        hosts = frozenset({f"{HOST}:{self.port}", f"localhost:{self.port}"})
        made: list[ASGIApp] = []

        async def app(scope: Scope, receive: Receive, send: Send) -> None:
            if scope["type"] == "lifespan":
                async with self._life():
                    await receive()
                    assert self._watch is not None
                    made.append(Guard(Pages(self.desk, self._watch, self.token).app(), hosts, self.token))
                    await send({"type": "lifespan.startup.complete"})
                    await receive()
                await send({"type": "lifespan.shutdown.complete"})
                return
            await made[0](scope, receive, send)

        return app

    @contextlib.asynccontextmanager
    async def _life(self) -> AsyncIterator[None]:
        """The watch over the file, while the server runs."""
        self._loop = asyncio.get_running_loop()
        self._watch = Watch(self.desk)
        task = asyncio.create_task(self._watch.run())
        try:
            yield
        finally:
            self._watch.stopping.set()
            await task

    def _config(self, app: ASGIApp) -> uvicorn.Config:
        """Loopback only, no log of requests, a short patience with open connections at the end."""
        return uvicorn.Config(
            app,
            host=HOST,
            port=self.port,
            loop="asyncio",
            http="h11",
            ws="none",
            lifespan="on",
            log_config=None,
            access_log=False,
            server_header=False,
            date_header=False,
            timeout_graceful_shutdown=1,
        )
