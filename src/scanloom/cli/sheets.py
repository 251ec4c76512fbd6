"""Commands that show what is on record: chip, schema."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write

if TYPE_CHECKING:
    from scanloom.handbook.chip import Chip


def chip(
    name: str | None = None,
    *,
    template: Annotated[bool, Parameter(negative="")] = False,
    json: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Show a chip record as one sheet, with the source of each row; without a name, the chips there are.

    Parameters
    ----------
    name
        Chip of the handbook, or a path to your own chip file.
    template
        Print a chip file to fill in for a chip of your own, with what to look up where.
    json
        Print JSON.

    Returns
    -------
    int
        0, or 2 when there is no such chip.
    """

    def work() -> int:
        if template:
            if name is not None or json:
                raise Refused("--template", "it prints a file to fill in and takes nothing else; leave the rest out")
            write(own_chip_template())
            return 0
        if name is None:
            return _names(json)
        record = find_chip(name)
        if json:
            from scanloom.report.json_text import chip_doc, envelope

            write(envelope("chip", chip_doc(record)))
        else:
            from scanloom.report.sheets import chip_sheet

            console().print(chip_sheet(record))
        return 0

    return answer("chip", json, work)


def schema(name: str = "dossier", *, json: Annotated[bool, Parameter(negative="")] = False) -> int:
    """Print the JSON Schema of the dossier, of a chip file, or of what a command prints with --json.

    Parameters
    ----------
    name
        dossier, chip-file, or a command.
    json
        Print it inside the envelope that every command uses.

    Returns
    -------
    int
        0, or 2 when there is none of that name.
    """

    def work() -> int:
        import json as text

        from scanloom.report.json_text import envelope
        from scanloom.report.schemas import schema_of

        try:
            made = schema_of(name)
        except ValueError as error:
            raise Refused("NAME", str(error)) from None
        if json:
            write(envelope("schema", {"name": name, "json_schema": made}))
        else:
            write(text.dumps(made, indent=2, ensure_ascii=False) + "\n")
        return 0

    return answer("schema", json, work)


def own_chip_template() -> str:
    """Text of a chip file to fill in.

    Returns
    -------
    str
        TOML with comments; passes the checks of a chip file as it stands.
    """
    from scanloom.handbook.load import TABLES

    return (TABLES.parent / "own_chip.toml").read_text(encoding="utf-8")


def find_chip(name: str, argument: str = "NAME") -> Chip:
    """Chip of the handbook or of a file.

    Parameters
    ----------
    name : str
        Name, or path of a chip file.
    argument : str
        The argument it was typed as, for messages.

    Returns
    -------
    Chip
        Its record.

    Raises
    ------
    Refused
        If the handbook has no such chip.
    """
    from scanloom.handbook.chips import chip as handbook_chip

    if "/" in name or name.endswith(".toml"):
        from scanloom.formats.chip_file import read_chip

        return read_chip(Path(name), name)
    try:
        return handbook_chip(name)
    except ValueError as error:
        raise Refused(argument, str(error)) from None


def _names(json: bool) -> int:
    """Chips of the handbook."""
    from scanloom.handbook.chips import chip as handbook_chip
    from scanloom.handbook.chips import chip_names

    if json:
        from scanloom.report.json_text import envelope

        write(envelope("chip", {"names": list(chip_names())}))
    else:
        from scanloom.report.sheets import chips_sheet

        console().print(chips_sheet([handbook_chip(name) for name in chip_names()]))
    return 0
