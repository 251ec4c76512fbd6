"""JSON Schemas: of the dossier, and of what each command prints."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from scanloom.dossier.model import Dossier
from scanloom.handbook.chip import ChipTable
from scanloom.report.documents import RESULTS
from scanloom.report.verdict_documents import ErrorDoc, VerdictDoc

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_names() -> tuple[str, ...]:
    """Names that `schema` takes.

    Returns
    -------
    tuple of str
        ``dossier``, ``chip-file``, and one a command.
    """
    return ("dossier", "chip-file", *RESULTS)


def schema_of(name: str) -> dict[str, Any]:
    """One schema.

    Parameters
    ----------
    name : str
        ``dossier``, ``chip-file`` or a command.

    Returns
    -------
    dict
        JSON Schema.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    if name == "dossier":
        return {"$schema": DIALECT, **Dossier.model_json_schema(), "title": "Scanloom dossier"}
    if name == "chip-file":
        return {"$schema": DIALECT, **ChipTable.model_json_schema(), "title": "Scanloom chip record"}
    if name not in RESULTS:
        raise ValueError(f"schema {name!r}: none of that name; {', '.join(schema_names())} are allowed; choose one")
    return {"$schema": DIALECT, **_envelope(name)}


def _envelope(command: str) -> dict[str, Any]:
    """Schema of the envelope around one command's result."""
    definitions: dict[str, Any] = {}
    parts: dict[str, Any] = {}
    for key, shape in (("result", RESULTS[command]), ("verdict", VerdictDoc), ("error", ErrorDoc)):
        made = TypeAdapter(shape).json_schema()
        definitions.update(made.pop("$defs", {}))
        parts[key] = made
    schema = {
        "title": f"What scanloom {command} --json prints",
        "type": "object",
        "properties": {
            "tool": {"const": "scanloom"},
            "version": {"type": "string"},
            "command": {"const": command},
            "result": {"anyOf": [parts["result"], {"type": "null"}]},
            "verdicts": {"type": "array", "items": parts["verdict"]},
            "errors": {"type": "array", "items": parts["error"]},
        },
        "required": ["tool", "version", "command", "result", "verdicts"],
        "$defs": definitions,
    }
    _close(schema)
    return schema


def _close(schema: Any) -> None:
    """Allow no property that the shape does not name, so that a test notices what is not published."""
    if isinstance(schema, dict):
        if "properties" in schema and "additionalProperties" not in schema:
            schema["additionalProperties"] = False
        for value in schema.values():
            _close(value)
    elif isinstance(schema, list):
        for value in schema:
            _close(value)
