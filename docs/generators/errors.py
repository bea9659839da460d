"""Exit codes, and every refusal that the code can give, read from the code itself."""

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import doorwright
from doorwright.cli.main import cli
from generators import markdown
from generators.markdown import plain, table

_SOURCE: Final = Path(doorwright.__path__[0])

_INTRO: Final = """
What a user gave wrongly is answered with a refusal: a sentence that says what is wrong, and one that says what to do.
A refused request changes nothing. Every mistake is listed at once, each with the place where it stands, what was read
there, what is wrong with it, and what to do. A fault of Doorwright's own is something else: it ends with a trace of the
program, asks to be reported, and never looks like a refusal.
"""
_JSON: Final = """
## With --json

A refusal is an object on standard output, with the exit code 2:

```json
{
  "refused": "survey.xlsx has 1 mistake; nothing was saved",
  "remedy": "Correct them in the workbook and give the command again.",
  "mistakes": [
    {
      "where": "sheet \\"Subnets\\", row 2, column B \\"Range\\"",
      "read": "192.0.2.0/99",
      "problem": "this is no range of addresses",
      "remedy": "Write the network and its prefix length, such as 192.0.2.0/24."
    }
  ]
}
```

Without `--json` the same words stand on standard error, one line a mistake.
"""
_REFUSALS: Final = """
## Refusals

What stands between … is filled in when the refusal is given.
"""
_KINDS: Final = {
    "Refused": ("message", "remedy"),
    "Unreadable": ("problem", "remedy"),
}
"""The exceptions that say what a user gave wrongly, and the names of their first two arguments."""


def page() -> str:
    """Return the page."""
    return markdown.page("Errors and exit codes", _INTRO, *_exit_codes(), _JSON, _REFUSALS, *_refusals())


def _exit_codes() -> Iterator[str]:
    """Yield the table of exit codes, as the command's own help has it."""
    lines = (cli.epilog or "").split("Exit codes:\n", 1)[1].split("\n\n", 1)[0].splitlines()
    yield "## Exit codes"
    yield table(("exit code", "means"), [line.split(maxsplit=1) for line in lines])


def _refusals() -> Iterator[str]:
    for path in sorted(_SOURCE.rglob("*.py")):
        module = ast.parse(path.read_text(encoding="utf-8"))
        rows = dict.fromkeys(_said(module))
        if rows:
            yield f"### {plain(_place(path))}"
            yield plain((ast.get_docstring(module) or "").splitlines()[0])
            yield table(("what is said", "what to do"), rows)


def _place(path: Path) -> str:
    return ".".join(path.relative_to(_SOURCE).with_suffix("").parts)


def _said(module: ast.Module) -> Iterator[tuple[str, str]]:
    for node in ast.walk(module):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _KINDS:
            given = dict(zip(_KINDS[node.func.id], node.args, strict=False))
            given |= {keyword.arg: keyword.value for keyword in node.keywords if keyword.arg}
            what, remedy = (_text(given.get(name)) for name in _KINDS[node.func.id])
            if what.strip("… "):
                yield what, remedy.strip("… ") and remedy


def _text(node: ast.expr | None) -> str:
    """Return the text of a literal, with … where something is filled in."""
    match node:
        case ast.Constant(value=str() as text):
            return text
        case ast.JoinedStr(values=values):
            return inspect.cleandoc("".join(_text(value) for value in values))
        case None:
            return ""
    return "…"
