"""Words for a command line that cannot be understood: place: what was given; what is allowed; what to do."""

from __future__ import annotations

import difflib
import shlex
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

from cyclopts import (
    App,
    CoercionError,
    CycloptsError,
    MissingArgumentError,
    RepeatArgumentError,
    UnknownCommandError,
    UnknownOptionError,
    UnusedCliTokensError,
)

if TYPE_CHECKING:
    from cyclopts import Argument

_KINDS = {int: "a whole number", float: "a number", bool: "the option alone, without a value"}


def usage_fault(app: App, error: CycloptsError) -> tuple[str, str, str]:
    """What is wrong with a command line, and where.

    Parameters
    ----------
    app : App
        All commands.
    error : CycloptsError
        What the argument library says.

    Returns
    -------
    tuple of str
        The command, empty when there is none; the place; and the sentence.
    """
    command = " ".join(error.command_chain or ())
    known = {a.name: a for a in app[command].assemble_argument_collection(parse_docstring=True)} if command else {}
    ask = f"ask scanloom {command} --help" if command else "ask scanloom --help"
    match error:
        case UnknownCommandError():
            word = (error.unused_tokens or [""])[0]
            names = [name for name in app.resolved_commands() if not name.startswith("-")]
            return "", "COMMAND", f"{word!r} is no command; {', '.join(names)} are; {_near(word, names)}{ask}"
        case UnknownOptionError():
            word = str(error.token.value or error.token.keyword)
            names = [name for name, argument in known.items() if argument.index is None]
            return command, word, f"no option of {command}; {', '.join(names)} are; {_near(word, names)}{ask}"
        case UnusedCliTokensError():
            spare = shlex.join(error.unused_tokens or ())
            return (
                command,
                spare,
                f"more words than {command} takes; none is allowed here; quote a value that holds spaces, or {ask}",
            )
        case RepeatArgumentError():
            return command, str(error.token.keyword), f"{error.token.value!r} is a second value; one is; leave one out"
        case MissingArgumentError() if error.argument is not None:
            return command, _place(error.argument), _missing(error, known, command)
        case CoercionError() if error.argument is not None and error.token is not None:
            return command, _place(error.argument), _wrong(error, known)
        case _:
            return command, command or "scanloom", f"{' '.join(str(error).split())}; {ask}"


def _missing(error: MissingArgumentError, known: dict[str, Argument], command: str) -> str:
    """Words for an argument, or a value of one, that is not there."""
    argument = error.argument
    assert argument is not None
    place = _place(argument)
    wanted = _wanted(argument, known)
    if error.keyword is not None:
        got = len(error.tokens_so_far)
        all_of = max((len(get_args(h)) for h in get_args(argument.hint) if get_origin(h) is tuple), default=1)
        values = "its value" if all_of == 1 else f"its {all_of} values"
        return f"{got or 'no'} value given; {wanted}; write {place} and then {values}"
    example = place if argument.index is not None else f"{place} VALUE"
    return f"not given; {wanted}; write scanloom {command} ... {example}"


def _wrong(error: CoercionError, known: dict[str, Argument]) -> str:
    """Words for a value that is not of its kind."""
    argument, token = error.argument, error.token
    assert argument is not None and token is not None
    choices = [str(choice) for choice in _choices(argument.hint)]
    if choices:
        near = _near(token.value, choices)
        return f"{token.value!r} is no choice; {', '.join(choices)} are; {near}choose one"
    kind = next((words for kind, words in _KINDS.items() if kind in (argument.hint, *get_args(argument.hint))), None)
    return f"{token.value!r} cannot be read; {kind or 'another value'} is allowed; {_wanted(argument, known)}"


def _wanted(argument: Argument, known: dict[str, Argument]) -> str:
    """What the help says of an argument, as part of a sentence."""
    told = known.get(argument.name)
    text = str(told.parameter.help or "") if told is not None else ""
    return f"wanted: {text.rstrip('.')[:1].lower()}{text.rstrip('.')[1:]}" if text else "a value is allowed"


def _place(argument: Argument) -> str:
    """An argument as people type it: options as they are, the rest in capitals."""
    return argument.name.removeprefix("--").upper() if argument.index is not None else argument.name


def _choices(hint: Any) -> Iterable[Any]:
    """Words of a Literal, also inside an Optional."""
    if get_origin(hint) is Literal:
        return get_args(hint)
    return [choice for inner in get_args(hint) for choice in _choices(inner)]


def _near(word: str, names: Iterable[str]) -> str:
    """A guess at what was meant."""
    close = difflib.get_close_matches(word, list(names), n=1)
    return f"did you mean {close[0]}? If not, " if close else ""
