"""What all commands do alike at the door: complain about input, print JSON or text."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from rich.console import Console

    from scanloom.formats.input_error import InputFault

T = TypeVar("T")


def answer(command: str, as_json: bool, work: Callable[[], int]) -> int:
    """Run the work of a command; an input that cannot be understood becomes exit code 2.

    Parameters
    ----------
    command : str
        The command.
    as_json : bool
        Whether the answer is JSON.
    work : callable
        Does everything and gives the exit code.

    Returns
    -------
    int
        Exit code.
    """
    from scanloom.formats.input_error import InputError, InputFault

    try:
        return work()
    except InputError as error:
        return complain(command, as_json, error.faults)
    except Refused as error:
        return complain(command, as_json, (InputFault("", 0, 0, error.argument, str(error)),))


def write(text: str) -> None:
    """Put JSON on standard output as UTF-8, whatever the terminal speaks (RFC 8259, section 8.1).

    Parameters
    ----------
    text : str
        The whole answer.
    """
    raw = getattr(sys.stdout, "buffer", None)
    if raw is None:
        sys.stdout.write(text)
        return
    sys.stdout.flush()
    raw.write(text.encode("utf-8"))
    raw.flush()


class Refused(Exception):
    """An argument that cannot be understood: says what was given, what is allowed, what to do.

    Parameters
    ----------
    argument : str
        The argument, as typed.
    text : str
        The sentence.
    """

    def __init__(self, argument: str, text: str) -> None:
        super().__init__(text)
        self.argument = argument


def asked(argument: str, work: Callable[[], T]) -> T:
    """Result of some work; words with which it refuses are put to the argument.

    Parameters
    ----------
    argument : str
        The argument, as typed.
    work : callable
        The work.

    Returns
    -------
    object
        What it gives.

    Raises
    ------
    Refused
        If it raises ValueError.
    """
    try:
        return work()
    except ValueError as error:
        raise Refused(argument, str(error)) from None


def console() -> Console:
    """A console on standard output that leaves words and numbers as they are.

    Returns
    -------
    Console
        No colour where the output is no terminal.
    """
    from rich.console import Console

    return Console(highlight=False, soft_wrap=False, markup=False, emoji=False)


def waiting(what: str) -> AbstractContextManager[object]:
    """On a terminal, a word on standard error that goes away when the work is done.

    Parameters
    ----------
    what : str
        What takes a while.

    Returns
    -------
    AbstractContextManager
        To do the work in.
    """
    if not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console

    return Console(stderr=True).status(what)


def complain(command: str, as_json: bool, faults: tuple[InputFault, ...]) -> int:
    """Print every fault.

    Parameters
    ----------
    command : str
        The command.
    as_json : bool
        Whether the answer is JSON.
    faults : tuple of InputFault
        What cannot be understood.

    Returns
    -------
    int
        Exit code 2.
    """
    if as_json:
        from scanloom.report.json_text import envelope

        write(envelope(command, None, (), faults))
        return 2
    for fault in faults:
        print(f"{fault.path}: {fault.text}" if not fault.file else str(fault), file=sys.stderr)
    if len(faults) > 1:
        print(f"{len(faults)} faults; nothing was judged.", file=sys.stderr)
    return 2
