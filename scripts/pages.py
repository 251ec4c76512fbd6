"""Write the generated pages of docs, or check that they are what the program says today.

Usage: python scripts/pages.py [--check]
"""

from __future__ import annotations

import difflib
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
AGAIN = "run: .venv/bin/python scripts/pages.py"
NOTE = "<!-- Made by scripts/pages.py from the program itself; a change here is lost at the next run. -->"

sys.path.insert(0, str(ROOT / "src"))  # the pages tell of this tree, whatever else is installed


def made() -> dict[str, str]:
    """Text of every generated page, by its path from the project's folder."""
    import pages_commands
    import pages_dossier
    import pages_sources
    import pages_verdicts

    words = tomllib.loads((Path(__file__).parent / "pages_words.toml").read_text(encoding="utf-8"))
    pages = {
        "docs/commands.md": pages_commands.page(ROOT),
        "docs/verdicts.md": pages_verdicts.page(ROOT, words["codes"]),
        "docs/sources.md": pages_sources.page(),
        "docs/dossier.md": pages_dossier.page(ROOT, words["fields"]),
    }
    pages = {name: text.replace("\n", f"\n\n{NOTE}\n", 1) for name, text in pages.items()}
    return pages | {f"docs/schemas/{name}.json": text for name, text in pages_commands.schemas(ROOT).items()}


def faults(pages: dict[str, str]) -> list[str]:
    """What on disk differs from the pages as they should be, one text a file."""
    found = []
    for name, text in pages.items():
        path = ROOT / name
        held = path.read_text(encoding="utf-8") if path.exists() else ""
        if held != text:
            differing = list(
                difflib.unified_diff(held.splitlines(), text.splitlines(), "on disk", "as it should be", "", "", 0, "")
            )
            more = [f"... {len(differing) - 14} more lines"] if len(differing) > 14 else []
            found.append(
                "\n".join([f"{name}: {'out of date' if held else 'missing'}; {AGAIN}", *differing[:14], *more])
            )
    known = {ROOT / name for name in pages}
    stale = [path for path in sorted((ROOT / "docs" / "schemas").glob("*")) if path not in known]
    return found + [f"{path.relative_to(ROOT).as_posix()}: no schema has that name; delete it" for path in stale]


def main(arguments: list[str]) -> int:
    """Write, or check."""
    if arguments not in ([], ["--check"]):
        print(__doc__, file=sys.stderr)
        return 2
    try:
        pages = made()
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    if arguments:
        found = faults(pages)
        print("\n\n".join(found) or f"{len(pages)} pages are what the program says")
        return 1 if found else 0
    changed = 0
    for name, text in pages.items():
        path = ROOT / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"{name} written")
            changed += 1
    print(f"{len(pages)} pages, {changed} changed")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
