"""docs/verdicts.md: every code with what it asks, its weight, the source of its limit and what it may say."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pages_checks import ORDER, WEIGHTS, Check, checks
from pages_sources import source_keys
from scanloom.basis.source import Source
from scanloom.dossier.reading import RECALLED_MAY_STOP
from scanloom.handbook.chips import chip, chip_names
from scanloom.handbook.limits import known_limit
from scanloom.handbook.load import table as handbook_table
from scanloom.handbook.sources import source
from scanloom.survey.run import STAGES

HEAD = """# Verdicts

Every check of a survey, those that hold too, is a verdict. Code, subject and rig identify it; this page lists the codes.

A check *holds* when the whole span found lies inside its limit, *fails* when the typical value lies outside, and is
*unknown* when a fact is missing or the span straddles the limit. The survey adds *accepted* (by the maker, with a
reason) and *stale* (accepted, and a fact behind it has changed since).

{weights}

In the sentences, square brackets stand for what the survey fills in. A sentence without a state before it may stand for
more than one: the numbers decide.
"""
WEIGHING = """The weight says what it means if a check does not hold: *stop*, do not order and do not plug in; *caution*, settle
it first; *note*, for the eye only, never counted. A limit known only from memory turns a stop into a caution, but for
{exempt}: there it stops, and says that it is recalled."""


def page(root: Path, words: Mapping[str, Any]) -> str:
    """The page."""
    found = checks(root / "src" / "scanloom")
    faults = [
        f'{code}: no row in pages_words.toml says what it checks; add [codes."{code}"]'
        for code in found.keys() - words.keys()
    ]
    faults += [
        f"{code}: in pages_words.toml, but the program has no such check; delete the row"
        for code in words.keys() - found.keys()
    ]
    faults += [
        f"{code}: no row of the handbook stands behind its limit; say in pages_words.toml where the limit is from"
        for code, check in found.items()
        if code in words and not check.rows and "limit" not in words[code]
    ]
    if faults:
        raise ValueError("\n".join(sorted(faults)))
    order = {stage: number for number, stage in enumerate(STAGES)}
    stages = sorted({code.partition(".")[0] for code in found}, key=lambda stage: (order.get(stage, len(order)), stage))
    by_stage = {stage: [c for code, c in sorted(found.items()) if code.startswith(f"{stage}.")] for stage in stages}
    exempt = ", ".join(f"`{code}`" for code in sorted(RECALLED_MAY_STOP))
    lines = [
        HEAD.format(weights=textwrap.fill(WEIGHING.format(exempt=exempt), 120)),
        "| code | checks | weight |",
        "|---|---|---|",
    ]
    for members in by_stage.values():
        lines += [f"| [`{c.code}`](#{_anchor(c.code)}) | {words[c.code]['checks']} | {_weights(c)} |" for c in members]
    for stage, members in by_stage.items():
        lines += ["", f"## {stage}"]
        for check in members:
            lines += _section(check, words[check.code])
    return "\n".join(lines) + "\n"


def _section(check: Check, row: Mapping[str, str]) -> Iterator[str]:
    """One code."""
    yield from ("", f"### {check.code}", "", row["checks"], "")
    yield f"- Weight: {_weights(check)}."
    limits = [text for table, name in sorted(check.rows) for text in _limit(table, name)]
    limits += [row["limit"]] if "limit" in row else []
    for text in limits:
        yield f"- Limit: {text.rstrip('.')}."
    yield "- Says:"
    rank = {state: number for number, state in enumerate((*ORDER, ""))}
    labelled = [(next(iter(states)) if len(states) == 1 else "", text) for text, states in check.said.items()]
    for state, text in sorted(labelled, key=lambda pair: rank[pair[0]]):
        yield f"  - {f'*{state}*: ' if state else ''}{text}"


def _limit(table: str, name: str) -> Iterator[str]:
    """Where a limit is printed, one text a source."""
    if table == "signal_levels":
        known = known_limit(name)
        row, fact = known.value, known.facts[0]
        bounds = {
            (True, True): f"{row.low:g} to {row.high:g}" if row.low is not None and row.high is not None else "",
            (True, False): f"at least {row.low:g}" if row.low is not None else "",
            (False, True): f"at most {row.high:g}" if row.high is not None else "",
        }[(row.low is not None, row.high is not None)]
        yield f"`{name}`, {bounds} {row.unit}: {_shown(source(fact.source))}, {fact.detail}"
    elif table == "chip":
        told = [
            f"{each}: {'; '.join(_shown(s) for s in _of_record(each, name)) or 'no such row'}" for each in chip_names()
        ]
        yield f"the chip's record, `{name}` ({' / '.join(told)})"
    else:
        keys = dict.fromkeys(source_keys(handbook_table(table)))
        yield f"the handbook's table `{table}`, whose rows are from {'; '.join(_shown(source(key)) for key in keys)}"


def _of_record(name: str, kind: str) -> list[Source]:
    """Sources of one kind of row in a chip's record."""
    record = chip(name)
    held = getattr(record.table, kind)
    rows = held if isinstance(held, tuple) else (held,) if held is not None else ()
    return [record.sources[key] for key in dict.fromkeys(row.source for row in rows)]


def _shown(one: Source) -> str:
    """A source with its standing, as a link to its row on the page of sources."""
    return f"[{one.title}](sources.md#{_anchor(one.key)}) ({one.standing})"


def _weights(check: Check) -> str:
    """Weights of a check, heaviest first."""
    return " or ".join(weight for weight in WEIGHTS if weight in check.weights)


def _anchor(heading: str) -> str:
    """Where a heading is found: small letters, digits and hyphens stay."""
    return "".join(c for c in heading.lower().replace(" ", "-") if c.isalnum() or c in "-_")
