"""The bill of materials."""

from itertools import groupby

from doorwright.model.walk import Walk
from doorwright.plan.materials import bill_of_materials
from doorwright.render.pdf.papers.paper import Paper


def materials(walk: Walk) -> Paper | None:
    """Return the bill of materials, or None where there is nothing to order."""
    lines = bill_of_materials(walk)
    if not lines:
        return None
    return {
        "kind": "materials",
        "title": "Bill of materials",
        "purpose": "what to order, by type; cable is net length, without waste or spare",
        "groups": [
            {
                "group": group.capitalize(),
                "lines": [
                    {
                        "key": line.key,
                        "title": line.title,
                        "amount": f"{line.amount:g}" if line.amount < 1e6 else f"{line.amount:.0f}",
                        "measure": line.measure,
                        "remark": line.remark,
                    }
                    for line in rows
                ],
            }
            for group, rows in groupby(lines, key=lambda line: line.group)
        ],
    }
