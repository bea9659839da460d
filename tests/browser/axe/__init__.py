"""axe-core (MPL-2.0, unchanged, for tests alone): what of WCAG 2.2 a program can find."""

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

_SCRIPT = (Path(__file__).parent / "axe-4.14.1.min.js").read_text(encoding="utf-8")
_STANDARD = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def faults(page: Page) -> list[str]:
    """Return what axe finds on a page: rule, what is wrong, and where."""
    page.evaluate(_SCRIPT)
    found: dict[str, Any] = page.evaluate(
        "standard => axe.run(document, {runOnly: {type: 'tag', values: standard}})", _STANDARD
    )
    return [f"{one['id']}: {one['help']}: {_where(one)}" for one in found["violations"]]


def contrast_faults(page: Page) -> list[str]:
    """Return what axe finds of contrast alone: of a page whose other faults are known already, in another light."""
    page.evaluate(_SCRIPT)
    found: dict[str, Any] = page.evaluate("axe.run(document, {runOnly: {type: 'rule', values: ['color-contrast']}})")
    return [f"{one['id']}: {one['help']}: {_where(one)}" for one in found["violations"]]


def _where(violation: dict[str, Any]) -> str:
    return ", ".join(" ".join(map(str, node["target"])) for node in violation["nodes"])
