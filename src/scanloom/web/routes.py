"""Requests in, page out."""

from __future__ import annotations

import asyncio
import hashlib
from base64 import b64encode
from collections.abc import Awaitable, Callable
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from scanloom.report.html import environment, look
from scanloom.report.on_request import inputs_mark
from scanloom.web.desk import Desk, Surveyed
from scanloom.web.edit import Conflict, Refused
from scanloom.web.fields import Typed
from scanloom.web.guard import TOKEN
from scanloom.web.shelf import Kept
from scanloom.web.view import Address, address, fields, given_at, offers, regions, sheet_of
from scanloom.web.watch import Watch

if TYPE_CHECKING:
    from jinja2 import Environment

_MOST_FIELDS = 24
HAS = "X-Page-Has"
"""Header in which a page tells the fingerprints of its regions; what has not changed is not sent."""
_STATIC = {"htmx.min.js": "text/javascript", "page.js": "text/javascript"}
Answer = Callable[[Request], Awaitable[Response]]


@cache
def _templates() -> Environment:
    """Templates of the page, and behind them those of the report."""
    made = environment("scanloom.web")
    made.globals.update(tagged=_tagged)
    return made


def _tag(html: str) -> str:
    """Fingerprint of a region, by which the page tells what it has."""
    return hashlib.blake2b(html.encode(), digest_size=6).hexdigest()


def _tagged(html: Markup) -> Markup:
    """A region with its fingerprint inside, so that tag and content arrive together or not at all."""
    return html + Markup('<i hidden data-tag="{}"></i>').format(_tag(html))


@cache
def _static(name: str) -> str:
    """Text of a static file."""
    return (files("scanloom.web") / "static" / name).read_text(encoding="utf-8")


class Pages:
    """The page of one dossier.

    Parameters
    ----------
    desk : Desk
        The open dossier.
    watch : Watch
        Tells of changes on the disk.
    token : str
        Token that a POST must bring.
    """

    def __init__(self, desk: Desk, watch: Watch, token: str) -> None:
        self.desk = desk
        self.watch = watch
        self.token = token
        self._one_at_a_time = asyncio.Lock()

    def app(self) -> Starlette:
        """The application, not guarded yet.

        Returns
        -------
        Starlette
            All routes.
        """
        return Starlette(
            routes=[
                Route("/", self._home),
                Route("/sheet/{sheet}", self._sheet),
                Route("/renew/{sheet}", self._renew),
                Route("/look", self._look, methods=["POST"]),
                Route("/write", self._write, methods=["POST"]),
                Route("/try", self._try, methods=["POST"]),
                Route("/take", self._take, methods=["POST"]),
                Route("/accept", self._accept, methods=["POST"]),
                Route("/undo", self._undo, methods=["POST"]),
                Route("/review", self._review, methods=["POST"]),
                Route("/review", self._review_page),
                Route("/ask", self._ask, methods=["POST"]),
                Route("/picture/{name}", self._picture),
                Route("/report", self._report),
                Route("/events", self._events),
                Route("/static/{name}", self._file),
            ]
        )

    async def _home(self, request: Request) -> Response:
        """The first sheet that needs looking at."""
        at = address(self.desk, "", request.query_params.get("rig", ""), "")
        assert at is not None
        return RedirectResponse(at.to(), 303)

    async def _sheet(self, request: Request) -> Response:
        """A whole page."""
        at = self._address(request.path_params["sheet"], request.query_params)
        if at is None:
            return PlainTextResponse("there is no such sheet; open / for the first one\n", 404)
        return HTMLResponse(self._page(at))

    def _page(self, at: Address) -> str:
        """Markup of a whole page, or of the reader's list where nothing could ever be read."""
        good = self.desk.good
        if good is None:
            return _templates().get_template("broken.html").render(desk=self.desk, token=self.token, header=TOKEN)
        return (
            _templates()
            .get_template("page.html")
            .render(
                **regions(self.desk, good, at, unwritten=False),
                fields=fields(good, at),
                by_display=bool((one := sheet_of(at)) and one.by_display),
                token=self.token,
                header=TOKEN,
                trial=None,
                said="",
            )
        )

    async def _renew(self, request: Request) -> Response:
        """All that changes, after the file has changed on the disk."""
        at = self._address(request.path_params["sheet"], request.query_params)
        if at is None or self.desk.good is None:
            return Response(status_code=204)
        return self._parts(request, at, self.desk.good, with_fields=True)

    async def _look(self, request: Request) -> Response:
        """Survey with what is being typed."""
        form = await request.form(max_files=0, max_fields=_MOST_FIELDS)
        at, typed = self._of(form), _typed(form)
        if at is None or typed is None:
            return _unknown()
        try:
            seen = self.desk.look(typed)
        except Refused as error:
            return self._message(typed, "err", str(error))
        except Conflict as error:
            return self._message(typed, "err", _both(error))
        written = self.desk.good is not None and seen.file.text == self.desk.good.file.text
        words = "" if written else "Not written yet: Enter or leaving the field writes it, Escape takes it back."
        return self._parts(request, at, seen, unwritten=not written, message=(typed, "note-line", words))

    async def _write(self, request: Request) -> Response:
        """Write one value."""
        form = await request.form(max_files=0, max_fields=_MOST_FIELDS)
        at, typed = self._of(form), _typed(form)
        if at is None or typed is None:
            return _unknown()
        try:
            said = self.desk.write(typed)
        except Refused as error:
            return self._message(typed, "err", f"{error} The file is as it was.")
        except Conflict as error:
            await self.watch.tell()
            return self._message(typed, "err", _both(error))
        return await self._after(request, at, said, typed)

    async def _take(self, request: Request) -> Response:
        """Write a remedy."""
        return await self._change(request, lambda form: self.desk.take(_word(form, "key"), _word(form, "value")))

    async def _accept(self, request: Request) -> Response:
        """Accept a check."""
        return await self._change(
            request,
            lambda form: self.desk.accept(
                _word(form, "code"), _word(form, "subject"), _word(form, "because"), _word(form, "for") or None, _word(form, "by")
            ),
        )  # fmt: skip

    async def _undo(self, request: Request) -> Response:
        """Take back what was written last."""
        return await self._change(request, lambda form: self.desk.undo())

    async def _change(self, request: Request, work: Callable[[FormData], str]) -> Response:
        """Do something that writes, and show everything anew."""
        form = await request.form(max_files=0, max_fields=_MOST_FIELDS)
        at = self._of(form)
        if at is None:
            return _unknown()
        try:
            said = work(form)
        except Refused as error:
            return self._partials(said=f"Not done: {error}.")
        return await self._after(request, at, said, None)

    async def _try(self, request: Request) -> Response:
        """What a remedy would do."""
        form = await request.form(max_files=0, max_fields=_MOST_FIELDS)
        at, key, value = self._of(form), _word(form, "key"), _word(form, "value")
        if at is None:
            return _unknown()
        try:
            trial = self.desk.attempt(key, value)
        except Refused as error:
            return self._partials(said=f"Not tried: {error}.")
        return self._partials(trial=trial, key=key, value=value, at=at, said="")

    async def _ask(self, request: Request) -> Response:
        """Work that takes longer than a keystroke may, in a thread, so that the page goes on meanwhile."""
        form = await request.form(max_files=0, max_fields=_MOST_FIELDS)
        at, seen = self._of(form), self.desk.good
        sheet = None if at is None else sheet_of(at)
        wanted = next((one for one in sheet.requests if one.name == _word(form, "request")), None) if sheet else None
        if at is None or seen is None or wanted is None:
            return _unknown()
        given, choice = given_at(seen, at), _word(form, "choice")
        mark = inputs_mark(given, seen.file.data)
        async with self._one_at_a_time:  # a second request for the same waits, and then finds the compiled steps
            try:
                answer = await run_in_threadpool(wanted.answer, given, choice)
                kept = Kept(choice, mark, answer)
            except ValueError as error:
                kept = Kept(choice, mark, None, str(error))
        self.desk.shelf.put(wanted.name, at.rig, kept)
        return self._partials(asked=True, at=at, offers=offers(self.desk, self.desk.good or seen, at))

    async def _picture(self, request: Request) -> Response:
        """A picture that was asked for; it goes by its own address, so that an edit does not send it again."""
        png = self.desk.shelf.png(request.path_params["name"])
        if png is None:
            return PlainTextResponse("no such picture; it may have been drawn anew since\n", 404)
        return Response(png, media_type="image/png", headers={"cache-control": "private, max-age=86400, immutable"})

    async def _report(self, request: Request) -> Response:
        """The report, to print."""
        from scanloom.report.html_report import html_report

        if self.desk.good is None:
            return PlainTextResponse("the dossier cannot be read; mend it first\n", 409)
        return _printed(html_report(self.desk.good.file, self.desk.good.survey))

    async def _review(self, request: Request) -> Response:
        """Begin a review of the board's files; its end is told as a change of the file is."""

        def work(form: FormData) -> str:
            if self.desk.good is None:
                raise Refused("the dossier cannot be read; mend it first")
            self.desk.board.start(self.desk.good, _word(form, "final"))
            self.desk.version += 1
            return "The review runs; the page follows by itself."

        return await self._change(request, work)

    async def _review_page(self, request: Request) -> Response:
        """The kept review, to print."""
        good = self.desk.good
        view = None if good is None else self.desk.board.view(good)
        if good is None or view is None or view.run is None or view.survey is None:
            return PlainTextResponse(
                "the board's files are not reviewed yet; review them on the sheet Board first\n", 409
            )
        return _printed(await asyncio.to_thread(view.run.page, good.file.plan.dossier.dossier.title, view.survey))

    async def _events(self, request: Request) -> Response:
        """Tells of changes, as long as the page is open."""
        return StreamingResponse(self.watch.stream(), media_type="text/event-stream")

    async def _file(self, request: Request) -> Response:
        """One of the few files that belong to the page; no path leads anywhere else."""
        name = request.path_params["name"]
        if name == "look.css":
            text = str(look("colours", "sheet", "drawings")) + _static("page.css")
            return Response(text, media_type="text/css")
        if name not in _STATIC:
            return PlainTextResponse("no such file\n", 404)
        return Response(_static(name), media_type=_STATIC[name])

    async def _after(self, request: Request, at: Address, said: str, typed: Typed | None) -> Response:
        """Everything anew after something was written."""
        await self.watch.tell()
        good = self.desk.good
        if good is None:
            return _unknown()
        message = None if typed is None else (typed, "note-line", said)
        return self._parts(request, at, good, with_fields=True, said=said, message=message)

    def _parts(
        self, request: Request, at: Address, seen: Surveyed, *, with_fields: bool = False, unwritten: bool = False, said: str = "",
        message: tuple[Typed, str, str] | None = None,
    ) -> Response:  # fmt: skip
        """All regions, each for its own place."""
        has = dict(word.partition(":")[::2] for word in request.headers.get(HAS, "").split())
        return self._partials(
            changed=lambda name, html: has.get(name) != _tag(html),
            **regions(self.desk, seen, at, unwritten=unwritten),
            fields=fields(seen, at) if with_fields else None,
            whole=True,
            said=said,
            message=message,
        )

    def _message(self, typed: Typed, kind: str, words: str) -> Response:
        """Words at one field."""
        return self._partials(message=(typed, kind, words))

    def _partials(self, **names: Any) -> Response:
        """Regions of a page."""
        usual: dict[str, Any] = {
            "changed": lambda name, html: True,
            "whole": False, "asked": False, "fields": None, "message": None, "trial": None, "said": None,
            "desk": self.desk, "key": "", "value": "",
        }  # fmt: skip
        return HTMLResponse(_templates().get_template("partials.html").render(**(usual | names)))

    def _address(self, sheet: str, named: Any) -> Address | None:
        """What a request asks for."""
        return address(self.desk, sheet, named.get("rig", ""), named.get("display", ""))

    def _of(self, form: FormData) -> Address | None:
        """Where the page stands that sent a form."""
        return address(self.desk, _word(form, "sheet"), _word(form, "rig"), _word(form, "display"))


def _printed(text: str) -> Response:
    """A page to print; its one style sheet is allowed by its hash."""
    style = text.partition("<style>")[2].partition("</style>")[0]
    digest = b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; frame-ancestors 'none'"
    return HTMLResponse(text, headers={"content-security-policy": policy})


def _word(form: FormData, name: str) -> str:
    """One text of a form."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _typed(form: FormData) -> Typed | None:
    """What was typed, if the form says where."""
    item, key = _word(form, "item"), _word(form, "key")
    if not key or not (item == "" or item.isdigit()):
        return None
    return Typed(
        key, int(item) if item else None, _word(form, "value"), _word(form, "note"), _word(form, "was-value"), _word(form, "was-note")
    )  # fmt: skip


def _both(error: Conflict) -> str:
    """Words for a value that two have changed."""
    now = f"{error.value}; {error.note}" if error.note else error.value or "nothing"
    return f"Another editor has written {now} here meanwhile. Yours is not written: Enter writes it over that, Escape takes the file's."


def _unknown() -> Response:
    """A form that no page of ours sends."""
    return PlainTextResponse("the form names nothing that can be done; reload the page\n", 400)
