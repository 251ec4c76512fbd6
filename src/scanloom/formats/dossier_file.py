"""The dossier file: read whole with every fault at once, changed one value at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from scanloom.basis.record import record
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.leaf import plant
from scanloom.dossier.model import Dossier
from scanloom.dossier.plan import Plan, make_plan
from scanloom.formats.checked_toml import CheckedText, open_toml, parse_toml, raise_all, validate
from scanloom.formats.chip_file import read_chip
from scanloom.formats.edid import read_edid_file
from scanloom.formats.input_error import InputError, InputFault
from scanloom.formats.references import reference_faults
from scanloom.formats.salvage import salvage
from scanloom.formats.text_write import file_sha256
from scanloom.formats.toml_places import KeyPath
from scanloom.handbook.chip import Chip
from scanloom.handbook.chips import chip, chip_names, display_classes
from scanloom.handbook.sources import source


@record
class DossierFile:
    """A dossier as read from its file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        The file as named by the user.
    text : str
        Its text.
    sha256 : str
        Fingerprint of the text, so that a writer can tell whether somebody else changed it.
    data : Mapping
        Its values as TOML reads them.
    plan : Plan
        What stages read.
    """

    path: Path
    shown: str
    text: str
    sha256: str
    data: Mapping[str, Any]
    plan: Plan


def read_dossier(path: Path, shown: str | None = None) -> DossierFile:
    """Read a dossier.

    Parameters
    ----------
    path : Path
        The file.
    shown : str or None
        The file as named by the user, for messages.

    Returns
    -------
    DossierFile
        The dossier, ready for a survey.

    Raises
    ------
    InputError
        If it cannot be read or understood; lists every fault.
    """
    return _read(open_toml(path, shown or str(path)), path)


def read_dossier_text(text: str, path: Path, shown: str | None = None) -> DossierFile:
    """Read a dossier from its text, as it would stand in a file.

    Parameters
    ----------
    text : str
        The text.
    path : Path
        Where the file stands or would stand; paths in it start from there.
    shown : str or None
        The file as named by the user, for messages.

    Returns
    -------
    DossierFile
        The dossier, ready for a survey.

    Raises
    ------
    InputError
        If it cannot be understood; lists every fault.
    """
    return _read(parse_toml(text, shown or str(path)), path)


def key_path(key: str, data: Mapping[str, Any]) -> KeyPath:
    """Key path of a place as people say it; tables of a list go by name or number from one.

    Parameters
    ----------
    key : str
        Such as ``displays.hero-left.colour_load``.
    data : Mapping
        The values it leads into.

    Returns
    -------
    tuple of str or int
        Key path; the last steps need not exist yet.

    Raises
    ------
    ValueError
        If a table of a list is named that is not there.
    """
    here: Any = data
    path: list[str | int] = []
    for word in key.split("."):
        step: str | int = word
        if isinstance(here, list):
            step = _item(here, word, key)
        path.append(step)
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            here = None
    return tuple(path)


def _item(items: Sequence[Any], word: str, key: str) -> int:
    """Index of the table that a word names."""
    for number, item in enumerate(items):
        if isinstance(item, Mapping) and item.get("name") == word:
            return number
    if word.isdigit() and 1 <= int(word) <= len(items):
        return int(word) - 1
    names = ", ".join(str(i.get("name", n)) for n, i in enumerate(items, 1) if isinstance(i, Mapping))
    raise ValueError(
        f"{key}: {word!r} names nothing here; {names or f'1 to {len(items)}'} are allowed; correct the place"
    )


def _read(checked: CheckedText, path: Path) -> DossierFile:
    """Check a text all the way to a plan."""
    dossier, faults = validate(Dossier, checked, plant(checked.toml.data))
    if dossier is None:
        raise_all([*faults, *_name_faults(checked, path, faults)])
    assert dossier is not None
    record, chip_faults = _chip(dossier, checked, path.parent)
    blocks, block_faults = _blocks(dossier, checked, path.parent)
    raise_all([*chip_faults, *block_faults, *reference_faults(dossier, record, checked, path.parent)])
    classes = display_classes()
    standings = {str(row["source"]): source(str(row["source"])).standing for row in classes.values()}
    plan = make_plan(dossier, record, classes, standings, blocks)
    return DossierFile(path, checked.file, checked.text, file_sha256(checked.text), checked.toml.data, plan)


def _name_faults(checked: CheckedText, path: Path, faults: list[InputFault]) -> list[InputFault]:
    """Names that lead nowhere in a dossier whose values are not all good; what hangs on a bad value is left out."""
    rest, names = salvage(checked.toml.data)
    if rest is None:
        return []
    record, found = _chip(rest, checked, path.parent)
    found = [*found, *_blocks(rest, checked, path.parent)[1], *reference_faults(rest, record, checked, path.parent)]
    places = {(f.line, f.column) for f in faults}
    return [f for f in found if (f.line, f.column) not in places and not (names and " is no " in f.text)]


def _chip(dossier: Dossier, checked: CheckedText, folder: Path) -> tuple[Chip | None, list[InputFault]]:
    """Chip of the handbook, or of the maker's own file."""
    if dossier.chip is None or dossier.chip.like is None:
        return None, []
    name = dossier.chip.like.value
    if "/" not in name and not name.endswith(".toml"):
        try:
            return chip(name), []
        except ValueError as error:
            return None, [checked.fault(("chip", "like"), str(error))]
    if not (folder / name).exists():
        known = ", ".join(chip_names())
        words = (
            f"{name!r} is no file beside the dossier; a chip of the handbook ({known}) or a path is allowed; correct it"
        )
        return None, [checked.fault(("chip", "like"), words)]
    try:
        return read_chip(folder / name, name), []
    except InputError as error:
        if any(fault.line for fault in error.faults):
            return None, list(error.faults)  # the file's own faults tell more than the line that names it
        return None, [checked.fault(("chip", "like"), fault.text) for fault in error.faults]


def _blocks(dossier: Dossier, checked: CheckedText, folder: Path) -> tuple[dict[str, EdidBlock], list[InputFault]]:
    """Identification blocks of displays by name; files that are not there are faults of the references."""
    blocks: dict[str, EdidBlock] = {}
    faults: list[InputFault] = []
    for number, display in enumerate(dossier.displays):
        if display.edid is None or not (folder / display.edid.value).is_file():
            continue
        try:
            blocks[display.name] = read_edid_file(folder / display.edid.value, display.edid.value)
        except InputError as error:
            words = (f"{display.edid.value!r} cannot be used: {fault.text}" for fault in error.faults)
            faults.extend(checked.fault(("displays", number, "edid"), text) for text in words)
    return blocks, faults
