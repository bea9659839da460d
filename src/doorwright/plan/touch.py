"""The touch list: the difference of two revisions told as work at units.

Which units, switches and servers must be visited, in working order; what is set, altered and removed at each; what is
done there by hand; what is tested again. Candidates come from the changes by look-ups, so that the list of one
exchanged receiver does not ask for the settings of the whole site.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from doorwright.model.calling import Divert
from doorwright.model.change import Change
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.place import Dwelling
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import PartT, Walk
from doorwright.plan.candidates import candidates
from doorwright.plan.handwork import handwork, is_another_box, legend_strips_altered
from doorwright.plan.order import WalkingOrder
from doorwright.plan.piece import Holder, Piece, PieceKind, holder_of
from doorwright.plan.retest import Retest, retests
from doorwright.plan.settings import pieces_of, settings_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Alteration:
    """One setting of a holder that differs: ``old`` None where it is set, ``new`` None where it is removed.

    ``setting`` names it as in ``settings_of``; ``heading`` says under what people look for it ("keys", "for URU 12"),
    ``about`` what else it is about (the identifier of a part; the number of a key or port), and ``name`` what is
    entered. The values may carry the identifier of a secret's mark: ``settings.shown`` leaves that away.
    """

    setting: str
    kind: PieceKind
    about: str
    heading: str
    name: str
    old: str | None
    new: str | None

    @property
    def secret(self) -> bool:
        """Whether it is a secret, whose value is its line on the sealed sheet."""
        return self.name in set(SecretUse)


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One visit. ``fresh``: the box there is new, nothing is set in it yet. ``gone``: it is taken away."""

    number: int
    holder: Holder
    where: str
    fresh: bool
    gone: bool
    entries: tuple[Alteration, ...]
    work: tuple[str, ...]
    cautions: tuple[str, ...]
    legend_modules: tuple[int, ...]
    label_differs: bool
    tests: tuple[Retest, ...]

    @property
    def name(self) -> str:
        """What people call the holder."""
        return self.holder.label


_WORK_ORDER: Final = tuple(PieceKind)
"""Pieces are entered in the order in which their kinds stand: who a unit is and knows first, then what calls do."""

_HEADINGS: Final = {
    PieceKind.OWN: "its own settings", PieceKind.CLOCK: "clock", PieceKind.RINGING: "ringing",
    PieceKind.DIVERT: "diverts", PieceKind.KEY: "keys", PieceKind.DIRECTORY: "directory", PieceKind.PORT: "ports",
}  # fmt: skip
_NAMES: Final = {PieceKind.DIRECTORY: "line", PieceKind.DIVERT: "divert"}
"""What is entered, where that is the same for every piece of a kind."""


def touch_list(before: Walk, after: Walk, changes: Iterable[Change]) -> tuple[Touch, ...]:
    """Return the visits that lead from one revision to another, in working order.

    Args:
        before: the way around the earlier site.
        after: the way around the later one.
        changes: what leads from the earlier to the later site.

    Returns:
        A touch for each unit, switch and server whose settings differ or at which something is done by hand;
        what others register with comes before those that register.
    """
    found = candidates(before, after, changes)
    pieces: dict[str, list[Piece]] = {ident: [] for ident in found.holders}
    for piece in found.pieces:
        pieces.setdefault(piece.holder, []).append(piece)
    strips = legend_strips_altered(before, after, found.legends)
    touched = []
    for ident in (*pieces, *(ident for ident in strips if ident not in pieces)):
        touch = _touch(before, after, ident, pieces.get(ident, []), strips.get(ident, ()))
        if touch is not None:
            touched.append(touch)
    return _in_working_order(before, after, touched)


def applied(settings: Mapping[str, str], touch: Touch) -> dict[str, str]:
    """Return the settings of a holder after a visit. A fresh box begins with none.

    Raises:
        ValueError: a setting is not what the touch list expects to find.
    """
    entered = {} if touch.fresh else dict(settings)
    for entry in touch.entries:
        if entered.pop(entry.setting, None) != entry.old:
            raise ValueError(f"{touch.name}: {entry.setting} is not {entry.old!r}")
        if entry.new is not None:
            entered[entry.setting] = entry.new
    return entered


def _touch(before: Walk, after: Walk, ident: str, pieces: list[Piece], strips: tuple[int, ...]) -> Touch | None:
    old_holder, holder = holder_of(before, ident), holder_of(after, ident)
    there = holder or old_holder
    if there is None:
        return None
    fresh = holder is not None and (old_holder is None or is_another_box(old_holder, holder))
    if fresh and holder is not None:
        pieces = list(pieces_of(after, holder))
    entries = tuple(_alterations(before, after, dict.fromkeys(pieces), fresh=fresh))
    altered = {(entry.kind, entry.about) for entry in entries}
    by_hand = handwork(before, after, old_holder, holder, fresh=fresh, strips=strips, altered=altered)
    if not entries and not by_hand.work:
        return None
    return Touch(
        number=0,
        holder=there,
        where=where_is(after if holder else before, there),
        fresh=fresh,
        gone=holder is None,
        entries=entries,
        work=by_hand.work,
        cautions=by_hand.cautions,
        legend_modules=strips,
        label_differs=by_hand.label_differs,
        tests=_tests(before, after, holder, entries, fresh=fresh),
    )


def _alterations(before: Walk, after: Walk, pieces: Iterable[Piece], *, fresh: bool) -> Iterable[Alteration]:
    """Yield what differs, in order of work: its own end, pairings that end, other pairings, keys, directory, ports."""
    groups: list[tuple[tuple[int, bool], list[Alteration]]] = []
    for piece in pieces:
        old = {} if fresh else settings_in(before, piece)
        new = settings_in(after, piece)
        if old == new:
            continue
        heading = _heading(before, after, piece)
        differing = [
            name for name in (*new, *(name for name in old if name not in new)) if old.get(name) != new.get(name)
        ]
        entries = [
            Alteration(
                setting=setting,
                kind=piece.kind,
                about=piece.about,
                heading=heading,
                name=_name(before, after, piece, setting),
                old=old.get(setting),
                new=new.get(setting),
            )
            for setting in differing
        ]
        groups.append(((_WORK_ORDER.index(piece.kind), bool(new)), entries))
    for _, entries in sorted(groups, key=lambda group: group[0]):
        yield from entries


def _heading(before: Walk, after: Walk, piece: Piece) -> str:
    if piece.kind in _HEADINGS:
        return _HEADINGS[piece.kind]
    part = after.part(piece.about) or before.part(piece.about)
    label = part.label if part is not None else ""
    return f"for {label}" if piece.kind is PieceKind.PAIRING else f"{piece.kind} {label}"


def _name(before: Walk, after: Walk, piece: Piece, setting: str) -> str:
    match piece.kind:
        case PieceKind.OWN:
            return setting
        case PieceKind.PORT | PieceKind.KEY:
            return f"{setting} {'feeds' if piece.kind is PieceKind.PORT else 'rings'}"
        case PieceKind.RINGING:
            part = after.part(piece.about) or before.part(piece.about)
            return f"{part.label} rings" if part is not None else ""
    return _NAMES.get(piece.kind) or setting.partition(": ")[2]


def _tests(
    before: Walk, after: Walk, holder: Holder | None, entries: tuple[Alteration, ...], *, fresh: bool
) -> tuple[Retest, ...]:
    """Return the paths that a visit may have spoilt: all of a unit whose own end changed, else those it is about."""
    if holder is None or not (entries or fresh):
        return ()
    own = fresh or any(entry.kind is PieceKind.OWN for entry in entries)
    if isinstance(holder, Switch):
        fed = [after.find(Unit, run.far) for run in after.runs_from(holder.id)] if own else []
        return retests(after, units=[unit for unit in fed if unit])
    if isinstance(holder, Unit) and own:
        return retests(after, units=[holder])
    if isinstance(holder, SipServer) and own:
        return retests(after, units=after.units_registered_with(holder.id))
    units: list[Unit] = []
    dwellings: list[Dwelling] = []
    for entry in entries:
        match entry.kind:
            case PieceKind.PAIRING:
                units += _found(after.find(Unit, entry.about))
            case PieceKind.DIRECTORY:
                dwellings += _found(after.find(Dwelling, entry.about))
            case PieceKind.RINGING:
                dwellings += _found(after.find(Dwelling, entry.about))
                units += _found(after.find(Unit, entry.about))
            case PieceKind.DIVERT:
                divert = after.find(Divert, entry.about) or before.find(Divert, entry.about)
                dwellings += _found(after.find(Dwelling, divert.dwelling) if divert is not None else None)
            case PieceKind.KEY:
                keys = [key for key in after.keys_of(holder.id) if f"{key.module}.{key.slot}" == entry.about]
                for key in keys:
                    dwellings += _found(after.find(Dwelling, key.dwelling))
                    units += _found(after.find(Unit, key.desk))
    return retests(after, units=units, dwellings=dwellings, only_from=holder if isinstance(holder, Unit) else None)


def _found(part: PartT | None) -> list[PartT]:
    return [] if part is None else [part]


_RANK: Final = {UnitKind.VCU: 2, UnitKind.SMU: 3, UnitKind.URU: 4}


def _in_working_order(before: Walk, after: Walk, touched: list[Touch]) -> tuple[Touch, ...]:
    """Order by the way through the building, then let each registrar and feeding switch come before its own."""
    order = WalkingOrder(after)
    dwelling_before = WalkingOrder(before)

    def key(touch: Touch) -> tuple[object, ...]:
        holder = touch.holder
        # what is taken away goes first: its address and port may be somebody else's afterwards
        rank = 0 if isinstance(holder, Switch) else 1
        where: tuple[object, ...] = ((), 0, ())
        position = 0
        if isinstance(holder, Unit):
            rank = _RANK[holder.kind]
            walk, walking = (before, dwelling_before) if touch.gone else (after, order)
            dwelling = walk.find(Dwelling, holder.dwelling)
            where = walking.dwelling_key(dwelling) if dwelling else where
            position = holder.position if holder.position is not None else 99
        return (not touch.gone, rank, where, position, natural_key(holder.label), holder.id)

    waiting = {touch.holder.id: touch for touch in sorted(touched, key=key)}
    ordered: list[Touch] = []
    while waiting:
        chain = [next(iter(waiting))]
        while (first := _before(after, waiting[chain[-1]], waiting)) is not None and first not in chain:
            chain.append(first)
        ordered += [waiting.pop(ident) for ident in reversed(chain)]
    return tuple(replace(touch, number=number) for number, touch in enumerate(ordered, start=1))


def _before(after: Walk, touch: Touch, waiting: Mapping[str, Touch]) -> str | None:
    """Return what is on the list and must be visited before a touch: the registrar, or the switch that feeds it."""
    holder = touch.holder
    if touch.gone:
        return None
    feeding = [holder.registrar] if isinstance(holder, Unit) else []
    feeding += [run.near for run in after.runs_to(holder.id)] if isinstance(holder, Switch) else []
    return next(
        (ident for ident in feeding if ident is not None and ident in waiting and not waiting[ident].gone), None
    )
