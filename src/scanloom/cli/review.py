"""`scanloom review`: a board's fabrication files against the dossier."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, waiting, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanloom.dossier.plan import Plan
    from scanloom.stages.board.differences import Difference
    from scanloom.stages.board.model import BoardFiles
    from scanloom.survey import Survey
    from scanloom.survey.as_built_model import BuiltShown
    from scanloom.survey.review import Reviewed, Since

Flag = Parameter(negative="")
_MOST_BEFORE = 50_000_000  # bytes of an earlier answer that are read


def review(
    folder: Path,
    dossier: Path | None = None,
    *,
    role: Annotated[list[str] | None, Parameter(negative="")] = None,
    before: Path | None = None,
    final: Path | None = None,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    accept: Annotated[tuple[str, str] | None, Parameter(negative="")] = None,
    because: str | None = None,
    strict: Annotated[bool, Flag] = False,
    all: Annotated[bool, Flag] = False,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Review the fabrication files of a board, and hold them against a dossier, before they are ordered or cut.

    Parameters
    ----------
    folder
        Folder or zip with Gerber, drill, netlist, placement, parts and tool path files. Nothing in it is changed.
    dossier
        The dossier that the board must serve; without one, only the files are held against one another.
    role
        Say what a file is, FILE=ROLE, such as "a.gbr=top copper". May be repeated.
    before
        An earlier answer of this command with --json: shows what was mended and what is new.
    final
        Where DOSSIER is that of a prototype: the dossier of the final board; lists what the prototype does not prove.
    output
        Write a page with every finding and a drawing of its place; for a fault of a lane or a level also what its display
        would show, beside what it should.
    accept
        Accept the finding CODE about SUBJECT as it is: writes it into the dossier; goes stale when a file it rests on changes.
    because
        The reason, needed with --accept.
    strict
        Count a stop that holds only on a guess as unknown.
    all
        List the checks that hold, too.
    json
        Print JSON.

    Returns
    -------
    int
        0 nothing stands in the way, 1 something does, 2 the input cannot be read.
    """

    def work() -> int:
        from scanloom.formats.board_files import read_board_files
        from scanloom.survey.review import review_board, since

        plan, title = _plan(dossier)
        said = dict(_role(word) for word in role or ())
        files = read_board_files(folder, str(folder), said)
        earlier = None if before is None else _states(before)
        reviewed = review_board(plan, files)
        if accept is not None or because is not None:
            plan = _accept(dossier, reviewed.survey, accept, because)
            reviewed = review_board(plan, files)
        changed = None if earlier is None else since(earlier, reviewed.survey)
        unlike: tuple[Difference, ...] = ()
        if final is not None:
            from scanloom.stages.board.differences import differences

            unlike = differences(plan, _plan(final)[0])
        drawn = _shown(plan, reviewed)
        if output is not None:
            _write_page(output, title, str(folder), reviewed, files, changed, unlike, drawn)
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.review_text import review_doc

            shown = None if output is None else str(output)
            result = review_doc(
                str(folder), "" if dossier is None else str(dossier), reviewed, changed, shown, unlike, drawn
            )
            write(envelope("review", result, reviewed.survey.verdicts))
        else:
            from scanloom.report.review_text import print_review

            print_review(
                console(), title, str(folder), reviewed, changed, unlike, every=all, strict=strict, shown=drawn
            )
            if output is not None:
                print(f"Written to {output}.", file=sys.stderr)
        return reviewed.survey.exit_code(strict=strict)

    return answer("review", json, work)


def _plan(dossier: Path | None) -> tuple[Plan, str]:
    """What the board is held against: a dossier, or an empty one."""
    if dossier is None:
        from scanloom.dossier.model import Dossier, Head
        from scanloom.dossier.plan import Plan

        return Plan(Dossier(dossier=Head(format=1))), ""  # type: ignore[call-arg]
    from scanloom.formats.dossier_file import read_dossier

    plan = read_dossier(dossier, str(dossier)).plan
    return plan, plan.dossier.dossier.title


def _accept(dossier: Path | None, survey: Survey, what: tuple[str, str] | None, because: str | None) -> Plan:
    """Write an acceptance into the dossier, and read it again."""
    from scanloom.cli.check import write_acceptance
    from scanloom.formats.dossier_file import read_dossier

    if what is None or dossier is None:
        raise Refused(
            "--accept, --because", "they go together and need a dossier to be written into; add what is missing"
        )
    write_acceptance(read_dossier(dossier, str(dossier)), survey, what, because or "")
    return read_dossier(dossier, str(dossier)).plan


def _shown(plan: Plan, reviewed: Reviewed) -> BuiltShown | None:
    """What displays would show, where a finding concerns that; else nothing of the picture is loaded."""
    from scanloom.survey.review import concerned, shown_as_built

    if not concerned(reviewed.made):
        return None
    with waiting("drawing"):
        return shown_as_built(plan, reviewed)


def _role(word: str) -> tuple[str, str]:
    """FILE=ROLE taken apart."""
    from scanloom.formats.board_files import ROLE_WORDS

    name, mark, what = word.rpartition("=")
    if not mark or not name or what.strip() not in ROLE_WORDS:
        allowed = ", ".join(ROLE_WORDS)
        raise Refused("--role", f"{word!r} names no role; FILE=ROLE with one of {allowed} is allowed; choose one")
    return name, what.strip()


def _states(path: Path) -> dict[tuple[str, str], str]:
    """States of an earlier answer by code and subject."""
    import json as text

    from scanloom.formats.input_error import InputError, InputFault
    from scanloom.formats.text_file import FileFault, read_text

    wanted = "an answer of scanloom review --json is wanted; name the file it was saved to"
    try:
        made = text.loads(read_text(path, _MOST_BEFORE))
        return {(str(v["code"]), str(v["subject"])): str(v["state"]) for v in made["verdicts"]}
    except FileFault as error:
        raise InputError((InputFault(str(path), 0, 0, "", error.text),)) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise InputError((InputFault(str(path), 0, 0, "", f"not such an answer; {wanted}"),)) from None


def _write_page(
    output: Path, title: str, folder: str, reviewed: Reviewed, files: BoardFiles, changed: Since | None,
    unlike: Sequence[Difference], shown: BuiltShown | None,
) -> None:  # fmt: skip
    """Write the page, and nothing else."""
    from scanloom.formats.input_error import InputError, InputFault
    from scanloom.report.prototype_page import prototype_sections
    from scanloom.report.review_page import review_page

    page = review_page(title, folder, reviewed, files, changed, prototype_sections(reviewed, files, unlike), shown)
    try:
        output.write_text(page, encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or "unknown reason"
        text = f"cannot be written ({reason.lower()}); a file in an existing folder is wanted; check the path"
        raise InputError((InputFault(str(output), 0, 0, "", text),)) from None
