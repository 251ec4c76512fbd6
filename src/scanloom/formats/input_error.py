"""What is wrong with a file that a person wrote: every fault at once, each with its place."""

from __future__ import annotations

from scanloom.basis.record import record

_SHOWN = 160
"""Characters of a source line that are shown, around the fault. [1]"""


@record
class InputFault:
    """One fault.

    Parameters
    ----------
    file : str
        The file as named by the user.
    line : int
        Line, from 1; 0 when the fault has no place in the text. [1]
    column : int
        Column in characters, from 1; 0 when the fault has no place in the text. [1]
    path : str
        Place in the document, such as ``displays.hero-left.colour_load``.
    text : str
        What was given; what is allowed; what to do.
    source : str
        The line of the file.
    """

    file: str
    line: int
    column: int
    path: str
    text: str
    source: str = ""

    def __str__(self) -> str:
        """Place and words; the source line with a mark under the column."""
        where = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        head = f"{where}: {self.path}: {self.text}" if self.path else f"{where}: {self.text}"
        if not self.source.strip():
            return head
        start = max(0, self.column - 1 - _SHOWN // 2) if len(self.source) > _SHOWN else 0
        shown = self.source[start : start + _SHOWN]
        lead = "".join("\t" if c == "\t" else " " for c in shown[: self.column - 1 - start])
        return f"{head}\n    {shown}\n    {lead}^"


class InputError(Exception):
    """A file that cannot be understood.

    Parameters
    ----------
    faults : tuple of InputFault
        Everything that is wrong, in the order of the file.
    """

    def __init__(self, faults: tuple[InputFault, ...]) -> None:
        super().__init__("\n".join(str(f) for f in faults))
        self.faults = faults
