"""A maker's own chip record, read with the checks that the handbook's records pass."""

from __future__ import annotations

from pathlib import Path

from scanloom.formats.checked_toml import open_toml, raise_all, validate
from scanloom.handbook.chip import Chip, ChipTable
from scanloom.handbook.chips import make_chip, record_faults


def read_chip(path: Path, shown: str | None = None) -> Chip:
    """Chip of a file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str or None
        The file as named by the user.

    Returns
    -------
    Chip
        Its record.

    Raises
    ------
    InputError
        If it cannot be read or understood; lists every fault.
    """
    checked = open_toml(path, shown or str(path))
    record, faults = validate(ChipTable, checked, checked.toml.data)
    raise_all(faults)
    assert record is not None
    raise_all(
        checked.fault(tuple(int(step) if step.isdigit() else step for step in where.split(".")), text)
        for where, text in record_faults(record)
    )
    return make_chip(record)
