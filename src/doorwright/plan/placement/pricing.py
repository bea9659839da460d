"""The user's prices as the question counts them: every one that is needed, or none at all."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from doorwright.model.price import Price, PricedBy
from doorwright.model.walk import Walk
from doorwright.plan.placement.problem import Prices, SwitchType

_CENT: Final = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """Types with their costs, and the prices of cable; or no prices, and the items that lack one. ``notes`` on how."""

    types: tuple[SwitchType, ...]
    prices: Prices | None
    unpriced: tuple[str, ...]
    notes: tuple[str, ...]


def priced(walk: Walk, types: Iterable[SwitchType], *, cable: str, uplink_cable: str, optical_cable: str) -> Priced:
    """Put prices to types and cables.

    Args:
        walk: the way around the site.
        types: what may be bought, and what is there.
        cable: the key of the cable to units.
        uplink_cable: the key of the copper cable between switches.
        optical_cable: the key of the optical cable between switches; its price counts where a type takes it.
    """
    kinds = tuple(types)
    by_item: Mapping[str, Price] = {one.item: one for one in walk.all(Price)}
    sold = [one.key for one in kinds if one.at_most_count != 0]
    cables = [cable, uplink_cable, *([optical_cable] if any(one.optical for one in kinds) else [])]
    per_m = {key: _per_m(by_item.get(key)) for key in dict.fromkeys(cables)}
    each = {key: price.amount for key in sold if (price := by_item.get(key)) and price.per is PricedBy.PIECE}
    unpriced = (
        *(f"{key} (a piece)" for key in sold if key not in each),
        *(f"{key} (a metre or a drum)" for key, amount in per_m.items() if amount is None),
    )
    if unpriced:
        return Priced(types=kinds, prices=None, unpriced=unpriced, notes=())
    metre = {key: amount for key, amount in per_m.items() if amount is not None}
    notes = []
    shared = [key for key in metre if by_item[key].per is PricedBy.DRUM]
    if shared:
        notes.append(f"Of {', '.join(shared)}, sold by the drum, the metres used were counted, not whole drums.")
    uneven = [key for key, amount in metre.items() if amount != amount.quantize(_CENT)]
    if uneven:
        notes.append(f"The price of a metre of {', '.join(uneven)} was counted to the hundredth.")
    if optical_cable in metre:
        notes.append("Optical modules have no price: what an optical uplink costs is its cable.")
    prices = Prices(
        cable_per_m=metre[cable],
        copper_uplink_per_m=metre[uplink_cable],
        optical_uplink_per_m=metre.get(optical_cable, Decimal(0)),
    )
    costed = tuple(replace(one, cost=each.get(one.key, Decimal(0))) for one in kinds)
    return Priced(types=costed, prices=prices, unpriced=(), notes=tuple(notes))


def _per_m(price: Price | None) -> Decimal | None:
    if price is None or price.per is PricedBy.PIECE:
        return None
    if price.per is PricedBy.METRE:
        return price.amount
    return price.amount / Decimal(str(price.drum_m)) if price.drum_m else None
