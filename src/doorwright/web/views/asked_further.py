"""What discovery found and what switches told, as the page of Verify shows it."""

from dataclasses import dataclass
from typing import Final

from doorwright.app.find_units import FoundUnits
from doorwright.app.tell_further import DISCOVERY_HEADINGS, PORT_HEADINGS, discovery_row, discovery_words, port_rows
from doorwright.app.verify_switches import VerifiedSwitches
from doorwright.model.walk import Walk
from doorwright.web.paging import Piece, piece

SWITCHES_MOST: Final = 20
"""The ports of so many switches are shown at once."""
FOUND_MOST: Final = 500
"""So many of those who answered to discovery are listed; all are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutLine:
    """A part that cannot be asked, and why."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchPorts:
    """The ports of one switch that told of them, as rows below ``headings``."""

    name: str
    address: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscoveryView:
    """Who answered to discovery, as rows below ``headings``: elsewhere than planned, in no plan, and as planned.

    ``no_way`` says why the local network was not asked, where it was to be.
    """

    words: str
    headings: tuple[str, ...]
    elsewhere: tuple[tuple[str, ...], ...]
    strangers: tuple[tuple[str, ...], ...]
    as_planned: tuple[tuple[str, ...], ...]
    no_way: str


def discovery_view(said: FoundUnits) -> DiscoveryView:
    """Return what discovery found."""
    groups: dict[str, list[tuple[str, ...]]] = {"elsewhere": [], "strangers": [], "as_planned": []}
    for one in said.answered:
        group = "elsewhere" if one.is_elsewhere else "strangers" if one.part is None else "as_planned"
        groups[group].append(discovery_row(one))
    return DiscoveryView(
        words=discovery_words(said),
        headings=DISCOVERY_HEADINGS,
        elsewhere=tuple(groups["elsewhere"][:FOUND_MOST]),
        strangers=tuple(groups["strangers"][:FOUND_MOST]),
        as_planned=tuple(groups["as_planned"][:FOUND_MOST]),
        no_way=said.no_way,
    )


def ports_of(walk: Walk, said: VerifiedSwitches, start: int) -> Piece[SwitchPorts]:
    """Return the ports of the switches that told of them, beside what the plan has there, so many switches at once."""
    here = piece([one for one in said.heard if one.seen is not None], start, SWITCHES_MOST)
    return Piece(
        rows=tuple(
            SwitchPorts(
                name=one.target.name,
                address=one.target.address,
                headings=PORT_HEADINGS,
                rows=port_rows(walk, one),
            )
            for one in here.rows
        ),
        start=here.start,
        total_count=here.total_count,
        next_start=here.next_start,
    )
