"""The sealed sheet: the only paper that holds secrets. It is made when somebody asks for it by name, and then kept."""

from collections.abc import Mapping
from itertools import groupby
from typing import Any, Final

from doorwright.model.label import natural_key
from doorwright.model.naming import site_title, where_is
from doorwright.model.part import Part
from doorwright.model.unit import SecretMark, Unit
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.render import fonts
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.cards import group_of
from doorwright.render.pdf.press import edition_data, press

TITLE: Final = "Sealed sheet"
BLANK: Final = "␣"
CAUTIONS: Final = (
    "Whoever holds this sheet can open the doors and answer the calls. Print it once, on a printer that keeps no copy, "
    "seal it in an envelope, sign across the flap, and hand it to the keeper named here.",
    "Delete the file once it is printed. Do not mail it, do not photograph it, do not leave it at an entrance.",
    "When the seal is broken, say so below. When a sheet is lost, change every secret on it.",
)
UNPRINTABLE: Final = "holds characters that no font here can print: read it from the vault"
NOT_THERE: Final = "not in the vault that was opened"


def sealed_sheet_pdf(*, walk: Walk, secrets: Mapping[str, str], edition: Edition) -> bytes:
    """Return the sealed sheet as a tagged PDF (PDF/UA-1).

    Args:
        walk: the way around the site.
        secrets: the opened secrets by the identifier of their mark.
        edition: what the head and the footers say.

    Returns:
        The bytes of the file, the same for the same input. A mark without a secret is listed as such.
    """
    site = walk.settings()
    name = site_title(site.name)
    data = {
        "title": f"{TITLE}: {name}",
        "site": name,
        "edition": edition_data(edition, name, site.reference),
        "keeper": site.record_keeper,
        "cautions": list(CAUTIONS),
        "blank": BLANK,
        "groups": [
            {"title": title, "rows": [_row(walk, mark, owner, secrets) for mark, owner in group]}
            for title, group in groupby(_in_order(walk), key=lambda pair: _group(walk, pair[1]))
        ],
    }
    return press("sealed", data, edition)


def _in_order(walk: Walk) -> list[tuple[SecretMark, Part | None]]:
    """Return the marks and their owners: units in walking order, then the rest by name, each owner's by line."""
    order = {unit.id: place for place, unit in enumerate(WalkingOrder(walk).units(walk.all(Unit)))}
    pairs = [(mark, walk.part(mark.owner)) for mark in walk.all(SecretMark)]

    def key(pair: tuple[SecretMark, Part | None]) -> tuple[Any, ...]:
        mark, owner = pair
        kind = "" if owner is None else owner.KIND
        label = natural_key(owner.label) if owner else ()
        return (mark.owner not in order, order.get(mark.owner, 0), kind, label, mark.line)

    return sorted(pairs, key=key)


def _group(walk: Walk, owner: Part | None) -> str:
    if isinstance(owner, Unit):
        return group_of(walk, owner)
    return {"switch": "Switches", "SIP server": "SIP servers"}.get(owner.KIND if owner else "", "Others")


def _row(walk: Walk, mark: SecretMark, owner: Part | None, secrets: Mapping[str, str]) -> dict[str, Any]:
    secret = secrets.get(mark.id)
    shown = secret.replace(" ", BLANK) if secret is not None else None
    remark = NOT_THERE if shown is None else UNPRINTABLE if fonts.printable(shown) != shown else ""
    return {
        "line": str(mark.line),
        "owner": owner.label if owner else "a part that is gone",
        "where": where_is(walk, owner) if owner else "",
        "use": mark.use.value,
        "secret": None if remark else shown,
        "remark": remark,
    }
