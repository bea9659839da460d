"""Which mutants a test could judge: not those of decorators, annotations, docstrings and lines that are set aside."""

import ast
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

Position = tuple[int, int]
"""Line, counted from 1, and character in it, counted from 0."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What is left out: operators by pattern, and lines of a module by their text."""

    operators: re.Pattern[str]
    lines: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, settings: Mapping[str, Any]) -> Self:
        """Read what is left out from the settings of a run."""
        lines: dict[str, set[str]] = {}
        for entry in settings.get("set-aside", ()):
            if not entry["reason"].strip():
                raise ValueError(f"no reason is given for setting {entry['line']!r} aside")
            lines.setdefault(entry["module"], set()).add(entry["line"])
        return cls(
            operators=re.compile("|".join(settings["left-out-operators"]) or "(?!)"),
            lines={module: frozenset(found) for module, found in lines.items()},
        )

    def starts(self, module: Path, mutations: Sequence[tuple[str, Position]]) -> list[bool]:
        """Say of each mutation of a module, by operator and start, whether a test could judge it.

        Raises:
            LookupError: a line that is set aside is no longer in the module.
        """
        text = module.read_text(encoding="utf-8")
        source = [line.strip() for line in text.splitlines()]
        aside = self.lines.get(module.stem, frozenset())
        if gone := aside - set(source):
            raise LookupError(f"{module.name} has no such line any more: {', '.join(sorted(gone))}")
        silent = list(unjudged_spans(text))
        return [
            not self.operators.fullmatch(operator)
            and source[start[0] - 1] not in aside
            and not any(first <= start < last for first, last in silent)
            for operator, start in mutations
        ]


def unjudged_spans(text: str) -> Iterator[tuple[Position, Position]]:
    """Yield where the decorators, annotations and docstrings of a module stand, first and one past the last."""
    lines = text.splitlines()

    def span(node: ast.expr, before: int = 0) -> tuple[Position, Position]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        # the tree counts bytes, the mutants characters
        first = len(lines[node.lineno - 1].encode()[: node.col_offset].decode()) - before
        last = len(lines[node.end_lineno - 1].encode()[: node.end_col_offset].decode())
        return (node.lineno, first), (node.end_lineno, last)

    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            yield from (span(decorator, before=len("@")) for decorator in node.decorator_list)
        if isinstance(node, ast.FunctionDef) and node.returns is not None:
            yield span(node.returns)
        if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation is not None:
            yield span(node.annotation)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            yield span(node.value)
