"""Where everything in the network tree stands: cards of switches down the left, what they feed, and notes at the right.

Coordinates are millimetres in the sheet's field divided by the sheet's scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from doorwright.render.svg.geometry import Box
from doorwright.render.svg.network_contents import Card, NetworkContents, Node
from doorwright.render.svg.sheet import FIELD

TEXT_MM: Final = 2.1
LINE_MM: Final = 3.1
GROUP_MM: Final = 4.3
CARD_WIDTH_MM: Final = 66.0
STEP_MM: Final = 7.0
INFO_MM: Final = 66.0
LANE_MM: Final = 1.6
_DEPTH_MAX: Final = 9
_HEAD_MM: Final = 8.0
_FOOT_MM: Final = 5.0
"""Below the cards: where the tree goes on."""
_GAP_MM: Final = 3.0
_GROUPS_MAX: Final = 30
_SCALES: Final = (1.4, 1.25, 1.1, 1.0)


@dataclass(frozen=True, slots=True)
class PlacedNode:
    """A switch's card and the lines of what it feeds. ``is_continued`` where an earlier card of it went before."""

    node: Node
    card: Box
    groups: tuple[Box, ...]
    is_continued: bool


@dataclass(frozen=True, slots=True)
class PlacedCard:
    """A card beside the tree, or a heading."""

    card: Card
    box: Box


@dataclass(frozen=True, slots=True)
class NetworkSheet:
    """One sheet of the network tree."""

    scale: float
    nodes: tuple[PlacedNode, ...]
    cards: tuple[PlacedCard, ...]
    groups_mm: float
    info_mm: float


def network_sheets(contents: NetworkContents) -> tuple[NetworkSheet, ...]:
    """Spread the tree over as few sheets as can be, and on those as large as can be."""
    fewest = len(_sheets(contents, 1.0))
    return next(sheets for scale in _SCALES if len(sheets := _sheets(contents, scale)) == fewest)


def _sheets(contents: NetworkContents, scale: float) -> tuple[NetworkSheet, ...]:
    width_mm, height_mm = FIELD.width_mm / scale, FIELD.height_mm / scale - _HEAD_MM - _FOOT_MM
    deepest = min(_DEPTH_MAX, max((node.depth for node in contents.nodes), default=0))
    lanes_mm = LANE_MM * 7
    groups_mm = deepest * STEP_MM + CARD_WIDTH_MM + lanes_mm
    info_mm = width_mm - INFO_MM if contents.cards else width_mm
    chunks = [chunk for node in contents.nodes for chunk in _chunks(node)]
    node_pages = _flow([_node_mm(node) + _GAP_MM for node, _ in chunks], height_mm)
    card_pages = _flow([_card_mm(card) for card in contents.cards], height_mm)
    sheets = []
    for i in range(max(len(node_pages), len(card_pages), 1)):
        placed_nodes, y_mm = [], _HEAD_MM
        for k in node_pages[i] if i < len(node_pages) else ():
            node, is_continued = chunks[k]
            room_mm = info_mm - groups_mm - (6.0 if contents.cards else 0.0)
            placed_nodes.append(_placed(node, y_mm, groups_mm, room_mm, is_continued=is_continued))
            y_mm += _node_mm(node) + _GAP_MM
        placed_cards, y_mm = [], _HEAD_MM
        for k in card_pages[i] if i < len(card_pages) else ():
            card = contents.cards[k]
            placed_cards.append(PlacedCard(card, Box(info_mm, y_mm, INFO_MM, _card_mm(card) - 1.6)))
            y_mm += _card_mm(card)
        sheets.append(NetworkSheet(scale, tuple(placed_nodes), tuple(placed_cards), groups_mm, info_mm))
    return tuple(sheets)


def _flow(sizes_mm: Sequence[float], limit_mm: float) -> list[range]:
    pages: list[range] = []
    start, filled_mm = 0, 0.0
    for i, size_mm in enumerate(sizes_mm):
        if i > start and filled_mm + size_mm > limit_mm:
            pages.append(range(start, i))
            start, filled_mm = i, 0.0
        filled_mm += size_mm
    if sizes_mm:
        pages.append(range(start, len(sizes_mm)))
    return pages


def _chunks(node: Node) -> list[tuple[Node, bool]]:
    """Divide a node whose lines would fill more than a sheet."""
    count = max(1, -(-len(node.groups) // _GROUPS_MAX), -(-len(node.further) // _GROUPS_MAX))
    chunks = []
    for i in range(count):
        part = slice(i * _GROUPS_MAX, (i + 1) * _GROUPS_MAX)
        lines = node.lines if i == 0 else ()
        chunks.append((replace(node, lines=lines, further=node.further[part], groups=node.groups[part]), i > 0))
    return chunks


def _card_lines_mm(node: Node) -> float:
    return 2.0 + LINE_MM * (1 + len(node.lines) + len(node.further)) + 0.6


def _node_mm(node: Node) -> float:
    return max(_card_lines_mm(node), GROUP_MM * len(node.groups))


def _card_mm(card: Card) -> float:
    return 8.0 if card.heading else 2.0 + LINE_MM * (1 + len(card.lines)) + 2.4


def _placed(node: Node, y_mm: float, groups_mm: float, room_mm: float, *, is_continued: bool) -> PlacedNode:
    x_mm = min(node.depth, _DEPTH_MAX) * STEP_MM
    card = Box(x_mm, y_mm, CARD_WIDTH_MM, _card_lines_mm(node))
    groups = tuple(Box(groups_mm, y_mm + GROUP_MM * i, room_mm, GROUP_MM) for i in range(len(node.groups)))
    return PlacedNode(node, card, groups, is_continued)
