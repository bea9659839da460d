"""The sheet of prices."""

from typing import Final

from doorwright.model.price import Price, PricedBy
from doorwright.store.workbook.columns.column import Column, Sheet
from doorwright.store.workbook.columns.recurring import ID, TYPE_WORDS
from doorwright.store.workbook.money import AMOUNT
from doorwright.store.workbook.values import choice, length

BUYING_SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Prices", kind=Price, note="What things cost, without tax, in the currency of the sheet Site.",
        synonyms=("price", "price list", "cost", "costs", "rates", "unit prices"),
        matches=(("item", "per", "drum_m"), ("item", "per"), ("item",)),
        columns=(
            Column(
                field="item", heading="Item", required=True, width=22, example="cat6",
                note="Key of a unit type or of a kind of cable; junction; or a battery by its capacity: battery-7ah.",
                synonyms=("article", "what", "key", "product", "material", "name", *TYPE_WORDS),
            ),
            Column(
                field="amount", heading="Price", form=AMOUNT, required=True, example="0.48",
                note="What one costs, without tax: kept to the last digit.",
                synonyms=("amount", "unit price", "cost", "net price", "net", "rate", "price each", "each"),
            ),
            Column(
                field="per", heading="Per", example=PricedBy.METRE.value,
                form=choice(PricedBy, "measure of a price", {
                    "pcs": "piece", "pc": "piece", "pieces": "piece", "each": "piece", "ea": "piece", "no": "piece",
                    "unit": "piece", "item": "piece", "m": "metre", "metres": "metre", "meter": "metre",
                    "meters": "metre", "lm": "metre", "drums": "drum", "reel": "drum", "reels": "drum", "box": "drum",
                    "roll": "drum", "coil": "drum",
                }),
                note="What the price is for: a piece, a metre or a drum. A piece where nothing is said.",
                synonyms=("measure", "priced by", "price per", "sold by", "uom", "unit of measure"),
            ),
            Column(
                field="drum_m", heading="Drum (m)", form=length("m"),
                note="How much cable is on a drum, in metres. Feet are converted.",
                synonyms=("drum", "drum m", "drum length", "drum length m", "reel", "reel length", "box length",
                          "metres a drum"),
            ),
            ID,
        ),
    ),
)  # fmt: skip
