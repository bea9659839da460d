"""Find a part by whatever somebody has in hand: a door label, a number, a name, a serial number, an address."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.model.calling import Divert
from doorwright.model.door import ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, where_is
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.price import Price
from doorwright.model.site import PARTS
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk

_UNNAMED: Final = (Key, KeyModule, SecretMark, Divert, ReleaseRight, Price)
"""Kinds whose labels are not names of their own: found through what they belong to."""
_NAMED: Final = tuple(
    sorted(
        (kind for kind in PARTS if kind not in _UNNAMED),
        key=lambda kind: (kind is not Dwelling, kind is not Unit, kind is not Entrance),
    )
)
_MAC: Final = re.compile(r"(?:[0-9a-f]{2}[-:. ]?){5}[0-9a-f]{2}|(?:[0-9a-f]{4}\.){2}[0-9a-f]{4}", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A part that was found: its kind, its name, where it is, and what of it was sought."""

    id: str
    kind: str
    name: str
    where: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What was found: parts that are exactly what was sought, or, where there are none, those that have it in them."""

    text: str
    exact: bool
    hits: tuple[Hit, ...]


def seek(walk: Walk, text: str, *, wide: bool = False) -> Sought:
    """Find parts; with ``wide`` also those that have the text somewhere in them, although others are exactly it."""
    wanted = " ".join(text.split())
    if not wanted:
        return Sought(text="", exact=False, hits=())
    exact = _hits(walk, _exactly(walk, wanted))
    if exact and not wide:
        return Sought(text=wanted, exact=True, hits=exact)
    return Sought(text=wanted, exact=False, hits=_hits(walk, (*_exactly(walk, wanted), *_with(walk, wanted))))


def _hits(walk: Walk, found: Iterable[tuple[Part, str]]) -> tuple[Hit, ...]:
    first: dict[str, tuple[Part, str]] = {}
    for part, by in found:
        first.setdefault(part.id, (part, by))
    hits = (
        Hit(
            id=part.id,
            kind=part.kind.value if isinstance(part, Unit) else part.KIND,
            name=name_of(walk, part),
            where=_where(walk, part),
            by=by,
        )
        for part, by in first.values()
    )
    order = {kind.KIND: i for i, kind in enumerate(_NAMED)}
    return tuple(sorted(hits, key=lambda hit: (order.get(hit.kind, 1), natural_key(hit.name), natural_key(hit.where))))


def _where(walk: Walk, part: Part) -> str:
    if isinstance(part, Core | Level):
        building = walk.find(Building, part.building)
        return building.name if building is not None else ""
    return where_is(walk, part)


def _exactly(walk: Walk, wanted: str) -> Iterator[tuple[Part, str]]:
    small = wanted.casefold()
    mac = _mac(wanted)
    found: tuple[tuple[str, Iterable[Part]], ...] = (
        ("door label", walk.dwellings_labelled(wanted)),
        ("call number", walk.dwellings_numbered(wanted)),
        ("call number", walk.units_numbered(wanted)),
        ("name", walk.units_named(wanted)),
        ("serial number", (*walk.holders_of_serial(wanted), *walk.holders_of_serial(wanted.upper()))),
        ("MAC address", walk.holders_of_mac(mac) if mac else ()),
        ("IP address", walk.holders_of_address(wanted)),
    )
    for by, parts in found:
        yield from ((part, by) for part in parts)
    yield from _of_this_name(walk, small)
    yield from _behind_owner(walk, small)


def _of_this_name(walk: Walk, small: str) -> Iterator[tuple[Part, str]]:
    for kind in _NAMED:
        if kind not in {Dwelling, Unit}:
            for part in walk.all(kind):
                if small in {part.label.casefold(), f"{part.KIND} {part.label}".casefold()}:
                    yield part, "name"


def _behind_owner(walk: Walk, small: str) -> Iterator[tuple[Part, str]]:
    """Yield the dwellings that are meant by a label behind their core or building, or behind the word for them."""
    owner, slash, label = small.rpartition("/")
    if slash:
        for dwelling in walk.dwellings_labelled(label.strip()):
            core = walk.find(Core, dwelling.core)
            building = walk.building_of(dwelling)
            if owner.strip() in {one.name.casefold() for one in (core, building) if one is not None}:
                yield dwelling, "door label"
    word, _, rest = small.partition(" ")
    if word in {"dwelling", "flat", "home", "apartment"}:
        for dwelling in walk.dwellings_labelled(rest):
            yield dwelling, "door label"


def _with(walk: Walk, wanted: str) -> Iterator[tuple[Part, str]]:
    small = wanted.casefold()
    digits = re.sub(r"[-:. ]", "", small)
    is_hex = len(digits) >= 4 and re.fullmatch(r"[0-9a-f]+", digits) is not None
    for kind in _NAMED:
        for part in walk.all(kind):
            if small in part.label.casefold():
                yield part, "name"
            elif by := _fact_with(part, small, digits if is_hex else ""):
                yield part, by
            elif any(small in text.casefold() for _, text in part.notes):
                yield part, "note"


def _fact_with(part: Part, small: str, digits: str) -> str:
    """Return which fact of a part has a text in it, empty where none has; ``digits`` are those of a MAC address."""
    facts: tuple[tuple[str, str | None], ...] = ()
    match part:
        case Dwelling():
            facts = (("call number", part.call_number), ("legend", part.legend))
        case Unit() | Switch():
            facts = (("serial number", part.serial), ("IP address", part.address))
            if digits and part.mac and digits in part.mac.replace("-", "").casefold():
                return "MAC address"
        case SipServer():
            facts = (("IP address", part.address),)
        case Subnet():
            facts = (("range", part.cidr),)
    return next((by for by, text in facts if text and small in text.casefold()), "")


def _mac(text: str) -> str:
    """Return a MAC address as it is kept (IEEE 802: six pairs with hyphens), empty where the text is none."""
    if _MAC.fullmatch(text) is None:
        return ""
    digits = re.sub(r"[^0-9A-F]", "", text.upper())
    return "-".join(digits[i : i + 2] for i in range(0, 12, 2))
