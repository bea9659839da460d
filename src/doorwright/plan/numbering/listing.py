"""Names in a sentence, as conflicts and remedies list them."""

from collections.abc import Sequence
from typing import Final

LISTED_COUNT: Final = 4
"""How many names a sentence holds. Our choice."""


def listed(names: Sequence[str]) -> str:
    """Return names as a list in a sentence, long ones cut short."""
    if len(names) > LISTED_COUNT:
        return f"{', '.join(names[:LISTED_COUNT])} and {len(names) - LISTED_COUNT} more"
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)
