"""`scanloom picture`: what the displays of a rig will show."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, waiting, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from scanloom.dossier.plan import Plan
    from scanloom.stages.picture.effects import Effects
    from scanloom.stages.picture.model import FrontEnd
    from scanloom.stages.picture.sizes import EffectSize
    from scanloom.survey import RigSurvey, Survey
    from scanloom.survey.drawn import DrawnRig

Flag = Parameter(negative="")
_BARE = ("1", "LSB", "pixel")
"""Units of knobs that are written as plain numbers."""
Listed = Annotated[list[str] | None, Parameter(negative="")]


def picture(
    dossier: Path,
    image: Path | None = None,
    *,
    rig: str | None = None,
    display: Listed = None,
    test: Literal["card", "border", "bars", "checker", "column", "text", "ramps", "lanes"] | None = None,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    panel: Annotated[bool, Flag] = False,
    ideal: Annotated[bool, Flag] = False,
    without: Listed = None,
    only: Listed = None,
    add: Listed = None,
    knob: Listed = None,
    sizes: Annotated[bool, Flag] = False,
    loupe: str | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Show what each display of a rig will show, with its analogue truth: levels, echoes, overload, or no lock at all.

    Parameters
    ----------
    dossier
        The dossier, a TOML file.
    image
        Picture to show, such as a PNG or JPEG; without one a test picture.
    rig
        Rig to run; the first of the dossier.
    display
        Display to draw; all of the rig. May be repeated.
    test
        Built-in picture to show: a card of several, or one of them alone.
    out
        PNG to write: one display as it is, several side by side.
    panel
        Write displays at the size of their panels, where they have one.
    ideal
        Write what the displays should show beside what they do show.
    without
        Effect to leave out. May be repeated.
    only
        Effect to take alone; none stands for no effect at all. May be repeated.
    add
        Effect to add, such as double-termination or missing-termination. May be repeated.
    knob
        Assumed constant to change, NAME=VALUE, such as recovery-time=300ns or sampling-phase=0.9. May be repeated.
    sizes
        Show how much each effect does to this picture; draws it once more for each.
    loupe
        Show the volts at the inputs for eight samples and four lines from X,Y on, such as 320,120.
    json
        Print JSON.

    Returns
    -------
    int
        0 when the displays drawn lock and do not clip, 1 when something stands in the way, 2 when the input cannot be read.
    """

    def work() -> int:
        from scanloom.formats.dossier_file import read_dossier
        from scanloom.survey import Survey, survey_plan

        if image is not None and test is not None:
            raise Refused("--test", "a picture is named already; one of both is allowed; leave one out")
        effects = _effects(only, without, add)
        front = _front_end(knob or ())
        file = read_dossier(dossier, str(dossier))
        survey = survey_plan(file.plan)
        chosen = _rig(survey, rig)
        wanted = _displays(file.plan, display)
        with waiting("drawing"):
            drawn, shows, size = _drawn(file.plan, survey, chosen, image, test, effects, front, wanted)
        if out is not None:
            _write_sheet(out, drawn, panel, ideal)
        closely = _closely(drawn, loupe)
        weighed: tuple[EffectSize, ...] = ()
        if sizes:
            from scanloom.survey.drawn import weigh_effects

            with waiting("weighing effects"):
                weighed = weigh_effects(chosen, drawn, effects, front)
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.picture_text import picture_doc

            doc = picture_doc(file.shown, shows, size, drawn, effects, None if out is None else str(out), weighed)
            for shown_doc, closer in zip(doc["displays"], closely, strict=True):
                shown_doc["loupe"] = {name: volts.tolist() for name, volts in closer.items()}
            write(envelope("picture", doc, drawn.verdicts))
        else:
            from scanloom.report.picture_text import loupe_sheet, picture_sheet, sizes_sheet

            console().print(picture_sheet(file.plan.dossier.dossier.title or file.shown, shows, drawn, effects))
            for one, closer in zip(drawn.displays, closely, strict=True):
                for channel, volts in closer.items():
                    console().print(loupe_sheet(one.path.name, channel, volts))
            if weighed:
                console().print(sizes_sheet(weighed))
            if out is not None:
                print(f"Written to {out}.")
        return Survey((chosen,), drawn.verdicts).exit_code()

    return answer("picture", json, work)


def _effects(only: list[str] | None, without: list[str] | None, add: list[str] | None) -> Effects:
    """Effects as asked for."""
    from scanloom.stages.picture.effects import chosen_effects

    try:
        return chosen_effects(
            None if only is None else [name for name in only if name != "none"], without or (), add or ()
        )
    except ValueError as error:
        argument = "--only, --without, --add"
        raise Refused(argument, str(error)) from None


def _front_end(knobs: Sequence[str]) -> FrontEnd:
    """Front end with the knobs that were turned."""
    from scanloom.basis import units
    from scanloom.handbook.front_end import front_end_names, front_end_row
    from scanloom.stages.picture.model import OWN_KNOBS, usual_front_end

    turned: dict[str, float] = {}
    for word in knobs:
        name, mark, text = (part.strip() for part in word.partition("="))
        names = (*front_end_names(), *OWN_KNOBS)
        if name not in names:
            raise Refused("--knob", f"{name!r} is no knob; {', '.join(names)} are; {_meant(name, list(names))}")
        unit = "V" if name == "full-scale" else "1" if name == "total" else front_end_row(name).value.unit
        try:
            turned[name] = float(text) if unit in _BARE else float(units.read(text, unit))
        except ValueError as error:
            example = f"{name}=0.9" if unit in _BARE else f"{name}={units.example(unit).replace(' ', '')}"
            given = f"{text!r} is no number" if unit in _BARE or not mark else str(error).partition(";")[0]
            raise Refused("--knob", f"{given}; NAME=VALUE is allowed; write {example}") from None
    try:
        return usual_front_end(turned)
    except ValueError as error:
        raise Refused("--knob", str(error)) from None


def _rig(survey: Survey, name: str | None) -> RigSurvey:
    """Rig by name, or the first."""
    names = [one.name for one in survey.rigs]
    if not names:
        raise Refused("DOSSIER", "it states no rig; a picture needs one; add a [[rigs]] table")
    if name is None:
        return survey.rigs[0]
    if name not in names:
        raise Refused("--rig", f"{name!r} is no rig; {', '.join(names)} are allowed; {_meant(name, names)}")
    return survey.rigs[names.index(name)]


def _displays(plan: Plan, wanted: list[str] | None) -> tuple[str, ...]:
    """Displays by name."""
    names = list(plan.displays)
    for name in wanted or ():
        if name not in names:
            raise Refused("--display", f"{name!r} is no display; {', '.join(names)} are allowed; {_meant(name, names)}")
    return tuple(wanted or ())


def _meant(name: str, names: list[str]) -> str:
    """What was perhaps meant."""
    near = difflib.get_close_matches(name, names, 1, 0.5)
    return f"did you mean {near[0]}?" if near else "choose one"


def _drawn(
    plan: Plan,
    survey: Survey,
    rig: RigSurvey,
    image: Path | None,
    test: str | None,
    effects: Effects,
    front: FrontEnd,
    displays: tuple[str, ...],
) -> tuple[DrawnRig, str, tuple[int, int]]:
    """Pictures of the rig, what they show, and the stored size."""
    from scanloom.stages.picture.patterns import PATTERN_WORDS, PATTERNS
    from scanloom.survey.drawn import NothingToDraw, draw_brightness, draw_pattern, picture_size

    try:
        width, rows, aspect = picture_size(rig)
        if image is not None:
            from scanloom.formats.image_file import fitted, read_image

            read = read_image(image, str(image))
            brightness = fitted(read, width, rows, aspect)
            shows = image.name + (f", the first of {read.frames} frames" if read.frames > 1 else "")
            return draw_brightness(plan, survey, rig, brightness, effects, front, displays), shows, (width, rows)
        name = next(one for one in PATTERNS if one == (test or PATTERNS[0]))
        drawn = draw_pattern(plan, survey, rig, name, effects, front, displays)
        return drawn, f"test picture {name}, {PATTERN_WORDS[name]}", (width, rows)
    except NothingToDraw as error:
        raise Refused("DOSSIER", str(error)) from None
    except ValueError as error:
        raise Refused("IMAGE" if image is not None else "--test", str(error)) from None


def _closely(drawn: DrawnRig, where: str | None) -> list[dict[str, NDArray[np.float64]]]:
    """Volts of a small region of each display, nothing where no loupe is asked for."""
    from scanloom.stages.picture.look import loupe

    if where is None:
        return [{} for _ in drawn.displays]
    x, mark, y = (part.strip() for part in where.partition(","))
    if not (mark and x.isdigit() and y.isdigit()):
        raise Refused("--loupe", f"{where!r} is no place; X,Y in samples and lines is allowed; write 320,120")
    try:
        return [loupe(one.shown, int(x), int(y), 8, 4) for one in drawn.displays]
    except ValueError as error:
        raise Refused("--loupe", str(error)) from None


def _write_sheet(out: Path, drawn: DrawnRig, panel: bool, ideal: bool) -> None:
    """One PNG: a single display as it is, several side by side."""
    from scanloom.formats.image_file import write_png
    from scanloom.formats.input_error import InputError, InputFault
    from scanloom.formats.text_file import FileFault
    from scanloom.report.picture_text import side_by_side
    from scanloom.stages.picture.look import on_panel

    pictures = []
    for one in drawn.displays:
        pictures.append((one.path.name, one.lit(panel)))
        if ideal:
            best = one.ideal.native
            best = on_panel(best, one.path.panel) if panel and one.path.panel is not None else best
            pictures.append((f"{one.path.name} ideal", best))
    sheet = pictures[0][1] if len(pictures) == 1 else side_by_side(pictures, 2 if ideal else 3)
    try:
        write_png(out, sheet)
    except FileFault as error:
        raise InputError((InputFault(str(out), 0, 0, "", error.text),)) from None
