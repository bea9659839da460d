"""Tables that ship with Doorwright: cited figures, limits, generic profiles. Read once, never written."""

import tomllib
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any


@cache
def table(name: str) -> MappingProxyType[str, Any]:
    """Return the shipped TOML table ``name`` (a path below ``data/``, without its ending)."""
    text = resources.files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))
