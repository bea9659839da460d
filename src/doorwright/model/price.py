"""What things cost, in the user's own figures."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from doorwright.model.part import Part


class PricedBy(StrEnum):
    """What a price is for."""

    PIECE = "piece"
    METRE = "metre"
    DRUM = "drum"


@dataclass(frozen=True, slots=True, kw_only=True)
class Price(Part):
    """The price of one item: the key of a profile or of a cable, for a piece, a metre or a drum of ``drum_m``.

    ``amount`` is in the site's currency, without tax. An item that is bought by the drum is counted in whole drums.
    """

    KIND: ClassVar[str] = "price"
    TABLE: ClassVar[str] = "prices"

    item: str
    amount: Decimal
    per: PricedBy = PricedBy.PIECE
    drum_m: float | None = None

    @property
    def label(self) -> str:
        """What it is the price of."""
        return self.item
