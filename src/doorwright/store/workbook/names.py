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


class NotFound(LookupError):
    """Nothing has this name. ``nearest`` is the name most like it, empty where none is."""

    def __init__(self, nearest: str) -> None:
        super().__init__(nearest)
        self.nearest = nearest


class Ambiguous(LookupError):
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
    within: frozenset[str]


class Names:
    """Finds parts by name, and spells parts so that they are found."""

    def __init__(self) -> None:
        self._exact: dict[tuple[type[Part], str], list[Named]] = defaultdict(list)
        self._loose: dict[tuple[type[Part], str], list[Named]] = defaultdict(list)
        self._known: dict[str, Named] = {}
        self._parts: dict[str, Part] = {}
        self._work = 0
        self._nearest: dict[tuple[tuple[type[Part], ...], str], str] = {}

    def add(self, part: Part, name: str | None = None) -> None:
        """Enter a part, or a part still to be made, under its label (or ``name``)."""
        known = self._entry(part, part.label if name is None else name)
        self._known[part.id] = known
        self._parts[part.id] = part
        for spelling in dict.fromkeys(known.spellings):
            self._exact[part_kind(part), spelling].append(known)
        loose = {squeezed(spelling) for spelling in known.spellings}
        loose |= {squeezed(without_kind_word(part_kind(part), known.spellings[0]))}
        for spelling in loose:
            self._loose[part_kind(part), spelling].append(known)

    def _entry(self, part: Part, name: str) -> Named:
        holders: list[str] = []
        for field in ("core", "building", "entrance", "unit"):
            holder = getattr(part, field, None)
            if isinstance(holder, str) and holder in self._known:
                holders += [holder, *self._known[holder].within]
        spellings = [name]
        for holder in holders:
            spellings.append(f"{self._known[holder].spellings[0]}/{spellings[-1]}")
            spellings.append(f"{self._known[holder].spellings[0]}/{name}")
        spellings += [f"{part.KIND}: {name}", f"{name} [{part.id}]"]
        return Named(part.id, part_kind(part), tuple(clean(spelling) for spelling in spellings), frozenset(holders))

    def part(self, ident: str) -> Part | None:
        """Return the part of this identifier."""
        return self._parts.get(ident)

    def ids(self, kind: type[Part]) -> list[str]:
        """Return the identifiers of every part of one kind, in the order of entering."""
        return [ident for ident, known in self._known.items() if known.kind is kind]

    def within(self, ident: str | None, kind: type[Part]) -> str | None:
        """Return the part of ``kind`` that a part lies in."""
        known = self._known.get(ident or "")
        if known is None:
            return None
        return next((other for other in known.within if self._known[other].kind is kind), None)

    def find(self, text: str, kinds: tuple[type[Part], ...], inside: str | None = None) -> tuple[str, bool]:
        """Return the identifier of the part so named, and whether its name was written exactly so.

        ``inside`` is a part that decides between several of one name.

        Raises:
            NotFound: no part has this name.
            Ambiguous: several have.
        """
        hits = [known for kind in kinds for known in self._exact.get((kind, text), ())]
        exactly = bool(hits)
        if not hits:
            folded = squeezed(text)
            hits = [known for kind in kinds for known in self._loose.get((kind, folded), ())]
        if not hits:
            for kind in kinds:
                bare = squeezed(without_kind_word(kind, text))
                hits += self._loose.get((kind, bare), ())
        return self._only(hits, text, kinds, inside), exactly

    def _only(self, hits: list[Named], text: str, kinds: tuple[type[Part], ...], inside: str | None) -> str:
        if len(hits) > 1 and inside is not None:
            hits = [hit for hit in hits if inside in hit.within] or hits
        if len(hits) == 1:
            return hits[0].part_id
        if not hits:
            raise NotFound(self._suggestion(text, kinds))
        raise Ambiguous(tuple(self.spell(hit.part_id, kinds) for hit in hits[:3]))

    def spell(self, ident: str, kinds: tuple[type[Part], ...], inside: str | None = None) -> str:
        """Return the shortest text that ``find`` takes for this part; its bare identifier in brackets at the worst."""
        known = self._known.get(ident)
        if known is None:
            return f"[{ident}]"
        for spelling in known.spellings:
            if spelling in {"", "-"}:
                continue
            hits = [hit for kind in kinds for hit in self._exact.get((kind, spelling), ())]
            if len(hits) > 1 and inside is not None:
                hits = [hit for hit in hits if inside in hit.within] or hits
            if len(hits) == 1 and hits[0].part_id == ident:
                return spelling
        return known.spellings[-1]

    def _suggestion(self, text: str, kinds: tuple[type[Part], ...]) -> str:
        if (kinds, text) not in self._nearest:
            self._nearest[kinds, text] = self._closest(text, kinds)
        return self._nearest[kinds, text]

    def _closest(self, text: str, kinds: Iterable[type[Part]]) -> str:
        wanted = set(kinds)
        names = [known.spellings[0] for known in self._known.values() if known.kind in wanted]
        self._work += len(names)
        if self._work > _SUGGESTION_WORK_MAX:  # ten thousand wrong names must not take an hour
            return ""
        by_folded = {name.casefold(): name for name in names if abs(len(name) - len(text)) <= max(3, len(text) // 2)}
        near = difflib.get_close_matches(text.casefold()[:80], by_folded, n=1, cutoff=0.6)
        return by_folded[near[0]] if near else ""


def part_kind(part: Part) -> type[Part]:
    """Return the class of a part."""
    return type(part)


def without_kind_word(kind: type[Part], text: str) -> str:
    """Return a name without the word for what it is: ``12`` for ``Flat 12``."""
    word, _, rest = text.partition(" ")
    return rest if rest and word.casefold() in _KIND_WORDS.get(kind, frozenset()) else text
