"""What a sheet works out only when asked: it takes longer than a keystroke may, so it is kept and may go stale."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.report.drawings.drawing import Drawing, Table

if TYPE_CHECKING:
    from scanloom.report.stage_sheets import SheetInput


@record
class Pictured:
    """One picture, pixel for pixel.

    Parameters
    ----------
    display : str
        The display it belongs to.
    kind : str
        ``small``, ``shown``, ``ideal`` or ``apart``.
    caption : str
        What it is, in one sentence.
    png : bytes
        The picture.
    size : tuple of int
        Its pixels across and down. [1]
    """

    display: str
    kind: str
    caption: str
    png: bytes
    size: tuple[int, int]

    @property
    def name(self) -> str:
        """Name by its content, so that a browser may keep it."""
        return hashlib.blake2b(self.png, digest_size=12).hexdigest()


@record
class Answered:
    """What came out.

    Parameters
    ----------
    result : str
        The sentence to be read if nothing else is.
    drawings : tuple of Drawing
        Drawings.
    pictures : tuple of Pictured
        Pictures.
    table : Table or None
        Figures.
    words : tuple of str
        What has to be said beside them, worst first.
    verdicts : tuple of Verdict
        Checks that only this work can make.
    """

    result: str
    drawings: tuple[Drawing, ...] = ()
    pictures: tuple[Pictured, ...] = ()
    table: Table | None = None
    words: tuple[str, ...] = ()
    verdicts: tuple[Verdict, ...] = ()

    def of(self, kind: str, display: str = "") -> tuple[Pictured, ...]:
        """Pictures of a kind.

        Parameters
        ----------
        kind : str
            The kind.
        display : str
            The display; empty for all.

        Returns
        -------
        tuple of Pictured
            In the order of the dossier.
        """
        return tuple(one for one in self.pictures if one.kind == kind and display in ("", one.display))


@record
class OnRequest:
    """One piece of work that a sheet offers.

    Parameters
    ----------
    name : str
        Slug, unique on a page.
    heading : str
        Its heading.
    says : str
        What it works out, and how long that takes.
    button : str
        Word on its button.
    answer : callable
        The work: from what is shown and the choice. It raises ValueError where there is nothing to work on.
    choices : Mapping
        Choices with a word each, the usual one first; empty for none.
    """

    name: str
    heading: str
    says: str
    button: str
    answer: Callable[[SheetInput, str], Answered]
    choices: Mapping[str, str]


def inputs_mark(given: SheetInput, data: Mapping[str, Any]) -> str:
    """Fingerprint of all that work about one rig may rest on; another one means that what was kept is stale.

    Parameters
    ----------
    given : SheetInput
        What is shown.
    data : Mapping
        The dossier as plain values.

    Returns
    -------
    str
        Of the tables that the signal rests on, of this rig's own, and of every fact of its checks, so that a changed chip
        file or identification block counts too.
    """
    rigs = [rig for rig in data.get("rigs", ()) if rig.get("name") == given.rig.name]
    tables = [data.get(name) for name in ("chip", "displays", "board", "levels", "supply")]
    facts = {fact for v in given.survey.verdicts if v.rig in ("", given.rig.name) for fact in v.rests_on}
    told = hashlib.blake2b(json.dumps([tables, rigs], default=str, sort_keys=True).encode(), digest_size=12)
    told.update("".join(sorted(f"{f.key}\t{f.text}\t{f.origin}\n" for f in facts)).encode())
    return told.hexdigest()
