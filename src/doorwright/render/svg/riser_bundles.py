"""Bundles: the cables of one feeder to one level of one column, which the riser drawing shows as one line."""

from dataclasses import dataclass
from typing import Final

from doorwright.model.unit import Unit
from doorwright.render.svg.riser_cables import Cabling, Feed, bundle_words, short_bundle_words
from doorwright.render.svg.riser_contents import Contents, Spot

BRANCHES_MAX: Final = 10
"""How many bundles one side of a level shows one by one; the smallest beyond that share a last line."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """Cables of one feeder that end at one spot, on one side of the riser; ``spot`` is None outside the sections.

    ``feeders`` holds several only where many small bundles share a line. ``fed`` are dwellings, units and doors.
    ``short_words`` are for where there is no room for ``words``.
    """

    feeders: tuple[str, ...]
    feeder_name: str
    spot: Spot | None
    side: str
    count: int
    words: str
    short_words: str
    title: str
    is_power: bool
    fed: frozenset[str]

    @property
    def key(self) -> tuple[object, ...]:
        """What tells it from every other bundle."""
        return ("branch", self.feeders, self.spot, self.side)


def bundles_of(contents: Contents, cabling: Cabling) -> tuple[Bundle, ...]:
    """Return the bundles of a site."""
    feeds: dict[tuple[str, Spot | None, str], list[Feed]] = {}
    for feed in cabling.feeds:
        spot = contents.spots.get(feed.fed.id)
        side = "left" if feed.fed.id in contents.feeds else "right"
        if spot is None:
            side = "outdoors" if feed.fed.id in contents.outdoors else "not placed"
        feeds.setdefault((feed.feeder.id, spot, side), []).append(feed)
    ends: dict[tuple[Spot | None, str], list[Bundle]] = {}
    for (feeder, spot, side), together in feeds.items():
        ends.setdefault((spot, side), []).append(_bundle(feeder, spot, side, together))
    return tuple(bundle for (spot, _), bundles in ends.items() for bundle in _few(bundles, shown=spot is not None))


def _bundle(feeder: str, spot: Spot | None, side: str, feeds: list[Feed]) -> Bundle:
    name = feeds[0].feeder.name
    words = bundle_words(feed.run for feed in feeds)
    fed = {feed.fed.dwelling if isinstance(feed.fed, Unit) and feed.fed.dwelling else feed.fed.id for feed in feeds}
    return Bundle(
        feeders=(feeder,),
        feeder_name=name,
        spot=spot,
        side=side,
        count=len(feeds),
        words=words,
        short_words=short_bundle_words(feed.run for feed in feeds),
        title=f"{name}: {words}, to " + ", ".join(feed.fed.label for feed in feeds),
        is_power=feeds[0].is_power,
        fed=frozenset(fed),
    )


def _few(bundles: list[Bundle], *, shown: bool) -> list[Bundle]:
    if not shown or len(bundles) <= BRANCHES_MAX:
        return bundles
    ordered = sorted(bundles, key=lambda bundle: (-bundle.count, bundle.feeder_name))
    kept, rest = ordered[: BRANCHES_MAX - 1], ordered[BRANCHES_MAX - 1 :]
    count = sum(bundle.count for bundle in rest)
    return [
        *kept,
        Bundle(
            feeders=tuple(bundle.feeders[0] for bundle in rest),
            feeder_name=f"{len(rest)} more feeders",
            spot=rest[0].spot,
            side=rest[0].side,
            count=count,
            words=f"{count} cables",
            short_words=f"{count} cables",
            title="; ".join(bundle.title for bundle in rest),
            is_power=all(bundle.is_power for bundle in rest),
            fed=frozenset().union(*(bundle.fed for bundle in rest)),
        ),
    ]
