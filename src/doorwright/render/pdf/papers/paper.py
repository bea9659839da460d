"""What every paper carries."""

from typing import Any, TypeAlias

Paper: TypeAlias = dict[str, Any]
"""Plain data, ready for JSON. ``kind`` names the template, ``title`` and ``purpose`` stand in the order of papers."""


def site_title(name: str) -> str:
    """Return what a site is called on its papers, also where nobody has named it."""
    return name.strip() or "Site without a name"
