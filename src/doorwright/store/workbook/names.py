"""Parts by the texts that name them. Reader and writer share it: what the writer spells, the reader finds."""

import difflib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.store.workbook.values import clean, squeezed

_SUGGESTION_WORK_MAX: Final = 300_000
_KIND_WORDS: Final[dict[type[Part], frozenset[str]]] = {
    Building: frozenset({"building", "house"}),
    Core: frozenset({"core", "stair", "stairs", "staircase", "block", "stairwell", "lift"}),
    Level: frozenset({"level", "floor", "storey", "story"}),
    Dwelling: frozenset(
        {
            "flat",
            "apartment",
            "apt",
            "apt.",
            "unit",
            "dwelling",
            "home",
            "no",
            "no.",
            "nr",
            "nr.",
            "number",
            "#",
            "door",
        }
    ),
    Entrance: frozenset({"entrance", "entry"}),
}


HOLDERS: Final = ("core", "building", "entrance", "unit")
"""The fields by which a part lies in another, the nearest first."""


class NotFound(LookupError):  # noqa: N818  (an answer, not an error of the program)
    """Nothing has this name. ``nearest`` is the name most like it, empty where none is."""

    def __init__(self, nearest: str) -> None:
        super().__init__(nearest)
        self.nearest = nearest


class Ambiguous(LookupError):  # noqa: N818  (an answer, not an error of the program)
    """Several parts have this name. ``spellings`` tell some of them apart."""

    def __init__(self, spellings: tuple[str, ...]) -> None:
        super().__init__(spellings)
        self.spellings = spellings


@dataclass(frozen=True, slots=True)
class Named:
    """A part under its names, and the parts that it lies in."""

    part_id: str
    kind: type[Part]
    spellings: tuple[str, ...]
    within: tuple[str, ...]


class Names:
    """Finds parts by name, and spells parts so that they are found."""

    def __init__(self) -> None:
        self._exact: dict[type[Part], dict[str, list[Named]]] = defaultdict(lambda: defaultdict(list))
        self._loose: dict[type[Part], dict[str, list[Named]]] = {}
        self._known: dict[str, Named] = {}
        self._ids: dict[type[Part], dict[str, None]] = defaultdict(dict)
        self._work = 0
        self._nearest: dict[tuple[tuple[type[Part], ...], str], str] = {}

    def enter(self, kind: type[Part], ident: str, name: str, holders: Iterable[str | None] = ()) -> None:
        """Enter a part under its name; ``holders`` are the parts that it lies in, the nearest first."""
        within: list[str] = []
        for holder in holders:
            if holder is not None and holder in self._known:
                within += [holder, *self._known[holder].within]
        spellings = [name]
        if kind is not Building:
            for holder in dict.fromkeys(within):
                outer = self._known[holder].spellings[0]
                spellings += [f"{outer}/{name}", f"{outer}/{spellings[-1]}"]
        spellings += [f"{kind.KIND}: {name}", f"{name} [{ident}]"]
        known = Named(ident, kind, tuple(clean(spelling) for spelling in spellings), tuple(within))
        self._known[ident] = known
        self._ids[kind][ident] = None
        if kind in self._loose:
            _enter_loosely(self._loose[kind], known)
        table = self._exact[kind]
        for spelling in dict.fromkeys(known.spellings):
            table[spelling].append(known)

    def enter_part(self, part: Part) -> None:
        """Enter a finished part."""
        self.enter(type(part), part.id, part.label, (getattr(part, field, None) for field in HOLDERS))

    def name(self, ident: str) -> str:
        """Return the plain name of a part, empty where it is not known."""
        known = self._known.get(ident)
        return known.spellings[0] if known else ""

    def ids(self, kind: type[Part]) -> list[str]:
        """Return the identifiers of every part of one kind, in the order of entering."""
        return list(self._ids[kind])

    def holder(self, ident: str | None, kind: type[Part]) -> str | None:
        """Return the part of ``kind`` that a part lies in."""
        known = self._known.get(ident or "")
        return next((other for other in known.within if self._known[other].kind is kind), None) if known else None

    def find(self, text: str, kinds: tuple[type[Part], ...], inside: str | None = None) -> tuple[str, bool]:
        """Return the identifier of the part so named, and whether its name was written exactly so.

        ``inside`` is a part that it must lie in, unless the name says where it lies.

        Raises:
            NotFound: no part has this name.
            Ambiguous: several have.
        """
        hits = self._exactly(text, kinds, inside)
        exactly = bool(hits)
        if not hits:
            folded = {squeezed(text)}
            hits = self._loosely(folded, kinds, inside)
        if not hits:
            bare = {squeezed(without_kind_word(kind, text)) for kind in kinds}
            hits = self._loosely(bare, kinds, inside)
        # a dwelling that is listed twice is told as that, not again wherever it is referred to
        twins = {hit.spellings[:-1] for hit in hits if hit.kind is Dwelling}
        if len(hits) == 1 or (len(twins) == 1 and all(hit.kind is Dwelling for hit in hits)):
            return hits[0].part_id, exactly
        if hits:
            raise Ambiguous(tuple(self.spell(hit.part_id, kinds) for hit in hits[:3]))
        raise NotFound(self._suggestion(text, kinds))

    def is_name(self, text: str, kinds: tuple[type[Part], ...]) -> bool:
        """Whether some part has this name, written exactly so or nearly."""
        return bool(self._exactly(text, kinds, None) or self._loosely({squeezed(text)}, kinds, None))

    def spell(self, ident: str, kinds: tuple[type[Part], ...], inside: str | None = None) -> str:
        """Return the shortest text that ``find`` takes for this part."""
        known = self._known.get(ident)
        if known is None:
            return f"[{ident}]"
        for spelling in known.spellings:
            if spelling in {"", "-"}:
                continue
            hits = self._exactly(spelling, kinds, inside)
            if len(hits) == 1 and hits[0].part_id == ident:
                return spelling
        return known.spellings[-1]

    def _exactly(self, text: str, kinds: tuple[type[Part], ...], inside: str | None) -> list[Named]:
        hits = [known for kind in kinds for known in self._exact[kind].get(text, ())]
        if inside is None:
            return hits
        here = [hit for hit in hits if inside in hit.within]
        return here or [hit for hit in hits if hit.spellings[0] != text]

    def _loosely(self, texts: set[str], kinds: tuple[type[Part], ...], inside: str | None) -> list[Named]:
        hits = {
            known.part_id: known
            for kind in kinds
            for text in texts
            for known in self._loose_table(kind).get(text, ())
            if inside is None or inside in known.within
        }
        return list(hits.values())

    def _loose_table(self, kind: type[Part]) -> dict[str, list[Named]]:
        if kind not in self._loose:
            table: dict[str, list[Named]] = defaultdict(list)
            for ident in self._ids[kind]:
                _enter_loosely(table, self._known[ident])
            self._loose[kind] = table
        return self._loose[kind]

    def _suggestion(self, text: str, kinds: tuple[type[Part], ...]) -> str:
        if (kinds, text) not in self._nearest:
            self._nearest[kinds, text] = self._closest(text, kinds)
        return self._nearest[kinds, text]

    def _closest(self, text: str, kinds: tuple[type[Part], ...]) -> str:
        self._work += sum(len(self._ids[kind]) for kind in kinds)
        if self._work > _SUGGESTION_WORK_MAX:  # ten thousand wrong names must not take an hour
            return ""
        names = [self._known[ident].spellings[0] for kind in kinds for ident in self._ids[kind]]
        by_folded = {name.casefold(): name for name in names if abs(len(name) - len(text)) <= max(3, len(text) // 2)}
        near = difflib.get_close_matches(text.casefold()[:80], by_folded, n=1, cutoff=0.6)
        return by_folded[near[0]] if near else ""


def _enter_loosely(table: dict[str, list[Named]], known: Named) -> None:
    folded = {squeezed(spelling) for spelling in known.spellings}
    for spelling in folded | {squeezed(without_kind_word(known.kind, known.spellings[0]))}:
        table[spelling].append(known)


def without_kind_word(kind: type[Part], text: str) -> str:
    """Return a name without the word for what it is: ``12`` for ``Flat 12``."""
    word, _, rest = text.partition(" ")
    return rest if rest and word.casefold() in _KIND_WORDS.get(kind, frozenset()) else text
