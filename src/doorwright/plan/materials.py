"""What to order: units, modules, switches and supplies by type, junctions, batteries, and cable by kind.

Every sum is exact: lengths and prices are counted as decimal numbers, and nothing is rounded but up to what is sold
whole: pieces, metres, drums.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from typing import Final

from doorwright.calc.cable import cable_kinds
from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.unit import KeyModule, Unit
from doorwright.model.walk import Walk

JUNCTION: Final = "junction"
NOT_CHOSEN: Final = "cable not chosen"
PIECES: Final = "pieces"
METRES: Final = "m"
NOT_COUNTED: Final = "Locks, fuses, mounting boxes, ducts, plugs and labour are not counted."
_ZERO: Final = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One line of the bill.

    ``amount`` is what the plan holds, in ``measure``; ``order`` what to order of it with spare parts or waste, in
    ``order_measure``. ``cost`` is None where no price fits. ``runs_open_count`` is how many runs have no length.
    """

    group: str
    key: str
    title: str
    amount: Decimal
    measure: str
    order: Decimal
    order_measure: str
    remark: str = ""
    price: Decimal | None = None
    cost: Decimal | None = None
    runs_open_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """The exact sum of the lines that have a price, and how much it leaves out."""

    cost: Decimal
    unpriced: tuple[str, ...]
    runs_open_count: int

    @property
    def leaves_out(self) -> str:
        """What the sum does not hold: "without prices for 3 items, without 2 runs of no length"; empty where whole."""
        parts = []
        if self.unpriced:
            parts.append(f"without prices for {counted(len(self.unpriced), 'item')}")
        if self.runs_open_count:
            parts.append(f"without {counted(self.runs_open_count, 'run')} of no length")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """The lines in order, and what they cost in the site's currency; ``has_prices`` is False where none is given."""

    lines: tuple[Material, ...]
    currency: str
    has_prices: bool

    @property
    def groups(self) -> tuple[str, ...]:
        """The groups of lines in order."""
        return tuple(dict.fromkeys(line.group for line in self.lines))

    def of(self, group: str) -> tuple[Material, ...]:
        """Return the lines of a group."""
        return tuple(line for line in self.lines if line.group == group)

    def total(self, group: str | None = None) -> Total:
        """Return the total of a group, or of all."""
        lines = self.lines if group is None else self.of(group)
        wanted = [line for line in lines if line.order or line.runs_open_count]
        return Total(
            cost=sum((line.cost for line in wanted if line.cost is not None), _ZERO),
            unpriced=tuple(line.key for line in wanted if line.cost is None),
            runs_open_count=sum(line.runs_open_count for line in wanted),
        )

    def money(self, amount: Decimal | None) -> str:
        """Return an amount with as many decimals as the finest price has; empty for None."""
        if amount is None:
            return ""
        prices = [line.price for line in self.lines if line.price is not None]
        places = max((-int(price.as_tuple().exponent) for price in prices), default=0)
        return f"{amount:,.{max(places, 0)}f}"

    def total_words(self, group: str | None = None) -> str:
        """Return a total in words that never hide what it leaves out."""
        total = self.total(group)
        return ", ".join(filter(None, (f"{self.money(total.cost)} {self.currency}".strip(), total.leaves_out)))


def bill_of_materials(walk: Walk) -> Bill:
    """Return the bill of materials with the user's prices, spare parts and waste."""
    prices: dict[str, list[Price]] = defaultdict(list)
    for price in walk.all(Price):
        prices[price.item].append(price)
    lines = [_priced(line, prices.get(line.key, [])) for line in _pieces(walk)]
    lines += [_cable(walk, key, runs, prices.get(key, [])) for key, runs in _runs_of(walk)]
    return Bill(lines=tuple(lines), currency=walk.settings().currency or "", has_prices=bool(prices))


def battery_key(battery_ah: float) -> str:
    """Return the item key by which a battery of so many ampere-hours is priced: "battery-7ah"."""
    return f"battery-{battery_ah:g}ah"


# pieces


def _pieces(walk: Walk) -> Iterator[Material]:
    for group, kind in (("units", Unit), ("modules", KeyModule), ("switches", Switch), ("supplies", Supply)):
        count = Counter(part.profile for part in walk.site.table(kind))
        for key, number in sorted(count.items()):
            profile = walk.profile(key)
            yield _piece(group, key, profile.title if profile else key, number, _spare(walk, number))
    batteries = Counter(supply.battery_ah for supply in walk.all(Supply) if supply.battery_ah)
    for battery_ah, number in sorted(batteries.items()):
        yield _piece("supplies", battery_key(battery_ah), f"Battery, {battery_ah:g} Ah", number, _spare(walk, number))
    if walk.all(Junction):
        yield _piece("junctions", JUNCTION, "Junction box", len(walk.all(Junction)), 0)


def _spare(walk: Walk, number: int) -> int:
    ratio = Decimal(str(walk.settings().choices.spare_parts_ratio))
    return int(_whole(number * ratio))


def _piece(group: str, key: str, title: str, number: int, spare: int) -> Material:
    return Material(
        group=group, key=key, title=title, amount=Decimal(number), measure=PIECES,
        order=Decimal(number + spare), order_measure=PIECES, remark=f"{spare} of them spare" if spare else "",
    )  # fmt: skip


def _priced(line: Material, prices: Sequence[Price]) -> Material:
    fitting = [price for price in prices if price.per is PricedBy.PIECE]
    if not fitting:
        return _told(line, [f"priced by the {prices[0].per.value}, not by the piece"] if prices else [])
    best = min(fitting, key=lambda price: price.amount)
    return _told(replace(line, price=best.amount, cost=best.amount * line.order), _several(fitting))


# cable


def _runs_of(walk: Walk) -> list[tuple[str, list[CableRun]]]:
    runs_of: dict[str, list[CableRun]] = defaultdict(list)
    for run in walk.all(CableRun):
        runs_of[run.cable or NOT_CHOSEN].append(run)
    return sorted(runs_of.items(), key=lambda pair: natural_key(pair[0]))


def _cable(walk: Walk, key: str, runs: Sequence[CableRun], prices: Sequence[Price]) -> Material:
    waste = 1 + Decimal(str(walk.settings().choices.waste_ratio))
    nets_m = [Decimal(str(run.length_m)) for run in runs if run.length_m is not None]
    lengths_m = [net_m * waste for net_m in nets_m]
    kind = cable_kinds().get(key)
    open_count = len(runs) - len(nets_m)
    line = Material(
        group="cable", key=key, title=kind.title if kind else key,
        amount=sum(nets_m, _ZERO).normalize(), measure=METRES,
        order=_whole(sum(lengths_m, _ZERO)), order_measure=METRES,
        remark=f"{open_count} of {len(runs)} runs have no length" if open_count else counted(len(runs), "run"),
        runs_open_count=open_count,
    )  # fmt: skip
    if key == NOT_CHOSEN:
        return line
    offers, refusals = [], []
    for price in prices:
        offer = _offer(line, lengths_m, price)
        if isinstance(offer, str):
            refusals.append(offer)
        else:
            offers.append(offer)
    if not offers:
        return _told(line, refusals)
    return _told(min(offers, key=lambda offer: offer.cost or _ZERO), _several(offers))


def _offer(line: Material, lengths_m: Sequence[Decimal], price: Price) -> Material | str:
    """Return the line bought at a price, or why it cannot be."""
    if price.per is PricedBy.METRE:
        return replace(line, price=price.amount, cost=price.amount * line.order)
    if price.per is PricedBy.PIECE:
        return "priced by the piece, not by length"
    if not price.drum_m or price.drum_m <= 0:
        return "priced by the drum, length of the drum not given"
    drum_m = Decimal(str(price.drum_m))
    longer = sum(length_m > drum_m for length_m in lengths_m)
    drums = Decimal(drums_count(lengths_m, drum_m))
    left_m = drums * drum_m - sum(lengths_m, _ZERO)
    bought = replace(
        line, order=drums, order_measure=f"{'drum' if drums == 1 else 'drums'} of {price.drum_m:g} m",
        price=price.amount, cost=price.amount * drums,
    )  # fmt: skip
    notes = [f"{left_m.quantize(Decimal('0.1')):f} m left over"] if drums else []
    return _told(bought, notes + ([f"{counted(longer, 'run')} longer than a drum: joined"] if longer else []))


def drums_count(lengths_m: Iterable[Decimal], drum_m: Decimal) -> int:
    """Return how many drums give every run in one piece: the longest runs first, each from the first drum with enough.

    First fit decreasing: at most 11/9 of the least possible number and a drum more (Johnson, 1973; from memory). A run
    longer than a drum takes whole drums and the rest of it from another.
    """
    left_m: list[Decimal] = []
    for length_m in sorted(lengths_m, reverse=True):
        whole, rest_m = divmod(length_m, drum_m)
        left_m += [_ZERO] * int(whole)
        if not rest_m:
            continue
        at = next((i for i, free_m in enumerate(left_m) if free_m >= rest_m), None)
        if at is None:
            left_m.append(drum_m - rest_m)
        else:
            left_m[at] -= rest_m
    return len(left_m)


def _whole(number: Decimal) -> Decimal:
    return number.to_integral_value(ROUND_CEILING)


def _several(offers: Sequence[object]) -> list[str]:
    return [f"cheapest of {len(offers)} prices"] if len(offers) > 1 else []


def _told(line: Material, notes: Sequence[str]) -> Material:
    return replace(line, remark="; ".join(filter(None, (line.remark, *dict.fromkeys(notes)))))
