"""The bill of materials."""

from decimal import Decimal

from doorwright.model.walk import Walk
from doorwright.plan.materials import NOT_COUNTED, PIECES, Bill, Material, bill_of_materials
from doorwright.render.pdf.papers.paper import Paper


def materials(walk: Walk) -> Paper | None:
    """Return the bill of materials, or None where there is nothing to order."""
    bill = bill_of_materials(walk)
    if not bill.lines:
        return None
    choices = walk.settings().choices
    return {
        "kind": "materials",
        "title": "Bill of materials",
        "purpose": "what to order, by type; spare parts and waste of cable are in it",
        "basis": f"Counted from the plan, with {choices.spare_parts_ratio * 100:.3g} % of each type as spare parts, "
        f"rounded up, and {choices.waste_ratio * 100:.3g} % of cable as waste. Drums are counted so that each run is "
        f"of one piece. {NOT_COUNTED}",
        "priced": bill.has_prices,
        "currency": bill.currency or "currency not given",
        "groups": [
            {
                "group": group.capitalize(),
                "total": bill.total_words(group),
                "lines": [_line(bill, line) for line in bill.of(group)],
            }
            for group in bill.groups
        ],
        "total": bill.total_words(),
        "unpriced": ", ".join(bill.total().unpriced),
    }


def _line(bill: Bill, line: Material) -> dict[str, str]:
    return {
        "key": line.key,
        "title": line.title,
        "amount": _amount(line.amount, line.measure),
        "order": _amount(line.order, line.order_measure),
        "price": bill.money(line.price),
        "cost": bill.money(line.cost) if line.cost is not None else "no price",
        "remark": line.remark,
    }


def _amount(amount: Decimal, measure: str) -> str:
    return f"{amount:f}" if measure == PIECES else f"{amount:f} {measure}"
