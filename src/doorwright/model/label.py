"""How people order labels: `2` before `10`, `G01` before `101`."""

import re
from typing import Final, TypeAlias

_RUNS: Final = re.compile(r"\d+|\D+")

NaturalKey: TypeAlias = tuple[tuple[int, int, str], ...]


def natural_key(label: str) -> NaturalKey:
    """Return a sort key in which runs of digits count as numbers and letters ignore their case."""
    return tuple((0, int(run), run) if run.isdecimal() else (1, 0, run.casefold()) for run in _RUNS.findall(label))
