"""Write the reference pages from the code, or see that those on the disk are what the code would write.

`python docs/generate.py` writes; with `--check` it writes nothing and fails where a page is stale.
"""

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Final

from generators import (
    calculations,
    commands,
    document,
    errors,
    layers,
    profiles,
    rules,
    sip_machines,
    sources,
    words,
    workbook,
)

DOCS: Final = Path(__file__).parent

PAGES: Final[Mapping[str, Callable[[], str]]] = MappingProxyType(
    {
        "explain/layers.svg": layers.drawing,
        "reference/calculations.md": calculations.page,
        "reference/commands.md": commands.page,
        "reference/document.md": document.page,
        "reference/document.schema.json": document.schema,
        "reference/errors.md": errors.page,
        "reference/profiles.md": profiles.page,
        "reference/rules.md": rules.page,
        "reference/sip-machines.md": sip_machines.page,
        "reference/sources.md": sources.page,
        "reference/words.md": words.page,
        "reference/workbook.md": workbook.page,
    }
)
"""Every generated file, below docs/, and what makes its text."""


def write(folder: Path) -> list[str]:
    """Write every page that differs and return the names of those written."""
    written = []
    for name, text in stale(folder).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        written.append(name)
    return written


def stale(folder: Path) -> dict[str, str]:
    """Return the pages that are missing or differ, with the text that they should have."""
    wanted = {name: make() for name, make in PAGES.items()}
    return {name: text for name, text in wanted.items() if _read(folder / name) != text}


def _read(path: Path) -> str | None:
    return path.read_text(encoding="utf-8") if path.exists() else None


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing; exit with 1 where a page is stale")
    parser.add_argument("--into", type=Path, default=DOCS, help="the folder of the pages (default: this one)")
    given = parser.parse_args()
    if not given.check:
        for name in write(given.into):
            print(f"wrote {given.into / name}")
        return 0
    names = sorted(stale(given.into))
    if names:
        print("These pages are not what the code would write:", file=sys.stderr)
        for name in names:
            print(f"  {given.into / name}", file=sys.stderr)
        print("Write them anew: python docs/generate.py (or: make reference)", file=sys.stderr)
    return int(bool(names))


if __name__ == "__main__":
    sys.exit(main())
