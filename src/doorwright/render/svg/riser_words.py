"""What the riser drawing says of cables that it cannot draw to their end: where they go on, and on which sheet."""

from collections import Counter

from doorwright.model.naming import titled
from doorwright.model.place import Building
from doorwright.render.svg.riser_layout import PlacedStack, PlacedTile
from doorwright.render.svg.riser_sheets import RiserPlan


class Wheres:
    """Knows on which sheet everything stands."""

    def __init__(self, planned: RiserPlan) -> None:
        self._planned = planned
        self._contents = planned.contents
        self._is_single = len(planned.sheets) == 1
        self._sheet_of_tile: dict[str, int] = {}
        self._sheet_of_cell: dict[tuple[str, str, str], int] = {}
        for number, one in enumerate(planned.sheets, start=1):
            for placed in one.stacks:
                self._sheet_of_tile.update(dict.fromkeys(placed.tiles, number))
                for band in placed.bands:
                    level = placed.stack.bands[band].level.id
                    for column in placed.columns:
                        cell = (placed.stack.panel.building, column.column.key, level)
                        self._sheet_of_cell.setdefault(cell, number)
        self._building = {panel.building: titled(Building.KIND, panel.name) for panel in planned.contents.panels}
        self._links = {link.ident: link for link in planned.cabling.uplinks}

    def of_part(self, part: str) -> str:
        """Say where a feeder or switch stands."""
        if part in self._contents.outdoors:
            return "outdoors"
        spot = self._contents.spots.get(part)
        if spot is None:
            return "not placed"
        return self._building[spot.building] if self._is_single else f"sheet {self._sheet_of_tile[part]}"

    def of_cell(self, building: str, column: str, level: str) -> int | None:
        """Return the sheet on which a level of a column is shown first."""
        return self._sheet_of_cell.get((building, column, level))

    def of_band(self, placed: PlacedStack, band: int) -> int:
        """Return the sheet on which a band of the same stack is shown."""
        return next(
            number
            for number, one in enumerate(self._planned.sheets, start=1)
            if any(other.stack is placed.stack and band in other.bands for other in one.stacks)
        )

    def rows_of(self, tile: PlacedTile, placed: PlacedStack | None) -> list[str]:
        """Return what a tile says of its cables: each uplink, then those that leave its section."""
        drawn = {net.key for net in placed.stack.nets} if placed else set()
        ident = tile.tile.ident
        rows = []
        for key in tile.tile.links:
            link = self._links[key]
            other = link.far.id if link.near.id == ident else link.near.id
            where = "" if ("uplink", key) in drawn or link.is_patch else self.of_part(other)
            rows.append(link.words_at(ident, where))
        return rows + ([self._leaving(ident, placed)] if tile.has_spare_line else [])

    def _leaving(self, feeder: str, placed: PlacedStack | None) -> str:
        drawn = {column.column.key for column in placed.columns} if placed else set()
        building = placed.stack.panel.building if placed else None
        counts: Counter[str] = Counter()
        for bundle in self._planned.bundles:
            spot = bundle.spot
            if feeder not in bundle.feeders or (spot and spot.building == building and spot.column in drawn):
                continue
            where = bundle.side
            if spot is not None:
                number = self._sheet_of_cell[(spot.building, spot.column, spot.level)]
                where = self._building[spot.building] if self._is_single else f"sheet {number}"
            counts[where] += bundle.count
        return ", ".join(f"{where}: {count} cable{'s' if count > 1 else ''}" for where, count in counts.items())
