"""Where a figure comes from, and how well that source is held."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from doorwright import data


class Held(StrEnum):
    """How a source is known to those who wrote the figure down. Printed wherever the figure is."""

    FULL = "full text"
    CLAUSE = "clause quoted"
    ABSTRACT = "abstract or headings"
    SECOND_HAND = "second-hand"
    MEMORY = "from memory"
    COMMON_PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A standard, regulation, handbook, or the common practice of the trade."""

    key: str
    title: str
    publisher: str
    edition: str
    held: Held


@dataclass(frozen=True, slots=True)
class Cite:
    """A place in a source: its key in ``data/sources.toml`` and the clause, table or page."""

    source: str
    place: str = ""

    def __post_init__(self) -> None:
        """Refuse a key that ``data/sources.toml`` does not hold: a cite without a source is a bug."""
        if self.source not in sources():
            raise LookupError(f"no source {self.source!r} in data/sources.toml")

    def __str__(self) -> str:
        title = sources()[self.source].title
        return f"{title}, {self.place}" if self.place else title

    @property
    def held(self) -> Held:
        """How the source is held."""
        return sources()[self.source].held


@cache
def sources() -> MappingProxyType[str, Source]:
    """Return every source by key."""
    return MappingProxyType(
        {
            key: Source(
                key=key,
                title=row["title"],
                publisher=row["publisher"],
                edition=row.get("edition", ""),
                held=Held[row["held"].upper().replace("-", "_")],
            )
            for key, row in data.table("sources").items()
        }
    )
