"""What every paper carries."""

from typing import Any, TypeAlias

from doorwright.model.naming import site_title

Paper: TypeAlias = dict[str, Any]
"""Plain data, ready for JSON. ``kind`` names the template, ``title`` and ``purpose`` stand in the order of papers."""

__all__ = ["Paper", "site_title"]
