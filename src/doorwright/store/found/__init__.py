"""Settings tables, exported from units or from a switch, read through a column map that the user made once."""

from doorwright.store.found.columns import columns_from, guess, suggestion
from doorwright.store.found.reader import FoundTable, Sighting, UnreadColumn, headings_of, read_found
from doorwright.store.found.target import TARGET_BY_WORD, TARGETS, Target

__all__ = [
    "TARGETS",
    "TARGET_BY_WORD",
    "FoundTable",
    "Sighting",
    "Target",
    "UnreadColumn",
    "columns_from",
    "guess",
    "headings_of",
    "read_found",
    "suggestion",
]
