"""The printed report: one file with everything inside, the same bytes for the same dossier."""

from __future__ import annotations

from scanloom import __version__
from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import DossierFile
from scanloom.report.closing import closing
from scanloom.report.drawings import Drawing
from scanloom.report.fact_rows import decisions, fact_rows
from scanloom.report.html import counted, environment
from scanloom.report.open_verdicts import accepted_harm, open_groups, worst_state
from scanloom.report.stage_sheets import SHEETS, SheetInput
from scanloom.report.strip import Gauge, budget
from scanloom.survey import RigSurvey, Survey

CAUTIONS = (
    "This report is arithmetic on what the dossier states. It does not certify anything; a person who knows the matter "
    "checks it, and local codes come first.",
    "Mains: old monitors hold dangerous voltages inside, also when unplugged. Do not open them. Wiring of circuits and plugs "
    "is for competent persons by local codes.",
    "Light: flashing pictures can harm people with photosensitive epilepsy. Judge every cue by the published limits, warn at "
    "the door, and ask the house.",
    "Heat and fumes: solder in moving air, keep regulators and supplies free of cloth and paper, and never leave a first "
    "powering unattended.",
    "Before a first plug-in measure every colour and sync contact without the display: a wrong part can drive an input beyond "
    "what it stands.",
)
"""Usual cautions of such work: common practice, no source."""


@record
class _Leaf:
    """One stage of one rig."""

    name: str
    title: str
    asks: str
    state: str
    line: str
    drawings: tuple[Drawing, ...]
    verdicts: tuple[Verdict, ...]
    counted: str


@record
class _Rig:
    """One rig of the report."""

    name: str
    budget: tuple[Gauge, ...]
    sheets: tuple[_Leaf, ...]


def html_report(file: DossierFile, survey: Survey) -> str:
    """The report as one HTML text.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    survey : Survey
        Its survey.

    Returns
    -------
    str
        Needs nothing beside it and asks nobody for anything; states no time, so that it can be compared.
    """
    plan = file.plan
    return (
        environment()
        .get_template("report.html")
        .render(
            title=plan.dossier.dossier.title or file.path.stem,
            closing=closing(survey, strict=False),
            harm=accepted_harm(survey),
            groups=open_groups(survey),
            notes=open_groups(survey, notes=True),
            rigs=[_rig(file, survey, rig) for rig in survey.rigs],
            board_files=board.files.value if (board := plan.dossier.board) and board.files else "",
            facts=fact_rows(plan, survey),
            decisions=decisions(plan),
            accepted=plan.dossier.accepted,
            cautions=CAUTIONS,
            version=__version__,
            file=file.path.name,
            fingerprint=file.sha256[:12],
        )
    )


def _rig(file: DossierFile, survey: Survey, rig: RigSurvey) -> _Rig:
    """Strip and sheets of one rig; a sheet about one display at a time is drawn for each."""
    names = tuple(file.plan.displays)
    whole = SheetInput(file.plan, survey, rig, names[0] if names else "")
    sheets = []
    for sheet in SHEETS:
        drawings = list(sheet.drawings(whole))
        if sheet.by_display:
            seen = {one.wide for one in drawings}
            for name in names[1:]:
                more = [d for d in sheet.drawings(SheetInput(file.plan, survey, rig, name)) if d.wide not in seen]
                seen.update(d.wide for d in more)
                drawings.extend(more)
        checks = sheet.verdicts(whole)
        leaf = _Leaf(
            sheet.name, sheet.title, sheet.asks, worst_state(checks), sheet.line(whole), tuple(drawings), checks, counted(checks)
        )  # fmt: skip
        sheets.append(leaf)
    return _Rig(rig.name, budget(whole), tuple(sheets))
