"""The network tree: switches by their uplinks, what each feeds, subnets, SIP servers and registrars."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from doorwright.model.walk import Walk
from doorwright.render.svg import sheet, symbols
from doorwright.render.svg.canvas import FINE, GREY, LINE, PALE, PAPER, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.network_contents import Group, network_contents
from doorwright.render.svg.network_layout import (
    GROUP_MM,
    LANE_MM,
    LINE_MM,
    TEXT_MM,
    NetworkSheet,
    PlacedCard,
    PlacedNode,
    network_sheets,
)
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.render.svg.symbols import Sign

_PORTS_MM: Final = 34.0
_LANES_MAX: Final = 5


def network_tree(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw the network as a tree of switches, on as many A3 sheets as it needs to stay legible.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    sheets = network_sheets(network_contents(walk))
    site = walk.settings()
    numbering = Numbering("Network tree", "network", revision, on, len(sheets))
    sheet_of: dict[str, int] = {}
    names: dict[str, str] = {}
    feeds_on: dict[str, list[int]] = {}
    for number, one in enumerate(sheets, start=1):
        for placed in one.nodes:
            sheet_of.setdefault(placed.node.ident, number)
            names[placed.node.ident] = placed.node.name
            if placed.node.parent is not None and number not in feeds_on.setdefault(placed.node.parent, []):
                feeds_on[placed.node.parent].append(number)
    drawings = []
    for number, one in enumerate(sheets, start=1):
        canvas = Canvas()
        field = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm, one.scale)
        _Tree(field, one, _Whereabouts(sheet_of, names, feeds_on), number).draw()
        drawings.append(sheet.finish(canvas, site, numbering, sheet=number, shows=_shows(one), legend=_legend()))
    return tuple(drawings)


def _shows(one: NetworkSheet) -> str:
    names = [placed.node.name for placed in one.nodes]
    if not names:
        return "Subnets, SIP servers and registrars." if one.cards else "An empty network."
    return f"{names[0]}." if len(names) == 1 else f"{names[0]} to {names[-1]}, {len(names)} entries."


def _legend() -> tuple[Entry, ...]:
    def further(canvas: Canvas) -> None:
        canvas.line((0, 1.7), (10, 1.7), pen=symbols.LOOP)
        _ring(canvas, 5, 1.7)

    def elsewhere(canvas: Canvas) -> None:
        canvas.disc(2, 1.7, 0.6, fill=PAPER)
        canvas.line((2.6, 1.7), (10, 1.7), pen=symbols.UPLINK)

    signs = (Sign.SWITCH, Sign.VCU, Sign.URU, Sign.SMU, Sign.SERVER)
    return (
        *(sheet.sign_entry(sign) for sign in signs),
        Entry(lambda canvas: _registrar(canvas, 5.0, 1.7), "registrar: other units register with it"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=symbols.UPLINK), "uplink, from the switch above"),
        Entry(elsewhere, "the tree goes on, or comes from a switch, on the sheet told"),
        Entry(further, "further link outside the tree: second path or ring"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=symbols.DATA), "cables to units, ports at the right"),
    )


def _ring(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """The mark of a link outside the tree: a ring with a bar."""
    canvas.disc(x_mm, y_mm, 0.9, pen=Pen(0.3), fill=PAPER)
    canvas.line((x_mm - 0.9, y_mm), (x_mm + 0.9, y_mm), pen=Pen(0.3))


def _registrar(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """The mark of a registrar: the letter R in a ring."""
    canvas.disc(x_mm, y_mm, 1.45, pen=Pen(0.25), fill=PAPER)
    canvas.text(x_mm, y_mm + 0.72, "R", room_mm=2.6, size_mm=2.0, bold=True, anchor="middle")


@dataclass(frozen=True, slots=True)
class _Whereabouts:
    """For each switch the sheet on which it stands first, its name, and the sheets with what it feeds."""

    sheet_of: dict[str, int]
    names: dict[str, str]
    feeds_on: dict[str, list[int]]


class _Tree:
    """Draws one sheet."""

    def __init__(self, canvas: Canvas, one: NetworkSheet, known: _Whereabouts, number: int) -> None:
        self.canvas = canvas
        self.one = one
        self.known = known
        self.number = number
        self.here = {placed.node.ident: placed for placed in reversed(one.nodes)}

    def draw(self) -> None:
        canvas = self.canvas
        canvas.text(0, 4.0, "Switches", room_mm=60, size_mm=2.8, bold=True)
        if any(placed.groups for placed in self.one.nodes):
            canvas.text(self.one.groups_mm, 4.0, "What they feed", room_mm=60, size_mm=2.8, bold=True)
        if not self.one.nodes and not self.one.cards:
            canvas.text(0, 12, "Nothing to draw yet: the site has no switches or units.", room_mm=260, size_mm=3)
        for placed in self.one.nodes:
            self._uplink(placed)
        self._continued()
        self._further()
        for placed in self.one.nodes:
            self._card(placed)
            self._groups(placed)
        for card in self.one.cards:
            _info(canvas, card)

    def _uplink(self, placed: PlacedNode) -> None:
        card = placed.card
        y_mm = card.y_mm + 3.0
        parent = self.here.get(placed.node.parent or "")
        if placed.node.parent is None or placed.is_continued:
            return
        if parent is None or parent.card.x_mm >= card.x_mm:
            self.canvas.disc(card.x_mm - 2.6, y_mm, 0.6, fill=PAPER)
            self.canvas.line((card.x_mm - 2.0, y_mm), (card.x_mm, y_mm), pen=symbols.UPLINK)
            return
        x_mm = parent.card.x_mm + 3.0
        self.canvas.line((x_mm, parent.card.bottom_mm), (x_mm, y_mm), (card.x_mm, y_mm), pen=symbols.UPLINK)

    def _continued(self) -> None:
        """Mark where the tree comes from another sheet, and where it goes on on later ones."""
        fed = dict.fromkeys(placed.node.parent for placed in self.one.nodes if not placed.is_continued)
        above = self._by_sheet((ident, self.known.sheet_of[ident]) for ident in fed if ident and ident not in self.here)
        self._told_sheets(7.2, 0.0, "continued from", above)
        foot_mm = sheet.FIELD.height_mm / self.one.scale - 0.6
        below = []
        x_mm = 0.0
        for ident, placed in reversed(self.here.items()):
            later = [number for number in self.known.feeds_on.get(ident, ()) if number > self.number]
            if not later:
                continue
            below += [(ident, number) for number in later]
            x_mm = max(x_mm, placed.card.x_mm + 3.0)
            self.canvas.line(
                (placed.card.x_mm + 3.0, placed.card.bottom_mm), (placed.card.x_mm + 3.0, foot_mm - 1.2),
                pen=symbols.UPLINK,
            )  # fmt: skip
            self.canvas.disc(placed.card.x_mm + 3.0, foot_mm - 0.6, 0.6, fill=PAPER)
        self._told_sheets(foot_mm, x_mm + 2.0, "continues on", self._by_sheet(below))

    def _by_sheet(self, found: Iterable[tuple[str, int]]) -> dict[int, list[str]]:
        by_sheet: dict[int, list[str]] = {}
        for ident, number in found:
            by_sheet.setdefault(number, []).append(self.known.names[ident])
        return dict(sorted(by_sheet.items()))

    def _told_sheets(self, y_mm: float, x_mm: float, words: str, by_sheet: dict[int, list[str]]) -> None:
        if by_sheet:
            told = "; ".join(f"{words} sheet {number}: {', '.join(names)}" for number, names in by_sheet.items())
            self.canvas.text(x_mm, y_mm, told, room_mm=self.one.info_mm - x_mm - 4, size_mm=TEXT_MM)

    def _further(self) -> None:
        """Draw the links outside the tree, each in a lane beside the cards, or as a stub where it leaves the sheet."""
        lane_of: dict[str, int] = {}
        lane_x_mm = max((placed.card.right_mm for placed in self.one.nodes), default=0.0) + LANE_MM
        shown = [(placed, i, link) for placed in self.one.nodes for i, link in enumerate(placed.node.further)]
        ends: dict[str, list[tuple[float, float]]] = {}
        for placed, i, (run, _, _) in shown:
            y_mm = placed.card.y_mm + 2.4 + LINE_MM * (1 + len(placed.node.lines) + i) - 0.2
            lane_of.setdefault(run, len(lane_of) % _LANES_MAX)
            ends.setdefault(run, []).append((placed.card.right_mm, y_mm))
        for run, points in ends.items():
            x_mm = lane_x_mm + lane_of[run] * LANE_MM
            for end_mm, y_mm in points:
                self.canvas.line((end_mm, y_mm), (x_mm, y_mm), pen=symbols.LOOP)
            if len(points) > 1:
                top_mm, bottom_mm = min(y for _, y in points), max(y for _, y in points)
                self.canvas.line((x_mm, top_mm), (x_mm, bottom_mm), pen=symbols.LOOP)
            for _, y_mm in points:
                _ring(self.canvas, x_mm, y_mm)

    def _card(self, placed: PlacedNode) -> None:
        node, card, canvas = placed.node, placed.card, self.canvas
        part = f"switch:{node.ident}" if node.ident and not placed.is_continued else ""
        with canvas.group(node.title, part=part):
            canvas.box(card, pen=Pen(0.4) if node.ident else Pen(0.25, GREY, (1.2, 0.8)), fill=PAPER)
            x_mm, room_mm = card.x_mm + 1.4, card.width_mm - 2.6
            y_mm = card.y_mm + 3.2
            name = f"{node.name}, continued" if placed.is_continued else node.name
            shift_mm = 0.0
            if node.ident:
                symbols.draw(canvas, Sign.SWITCH, x_mm, card.y_mm + 0.8)
                shift_mm = 5.2
            canvas.text(x_mm + shift_mm, y_mm, name, room_mm=room_mm - shift_mm, size_mm=2.5, bold=True)
            for i, text in enumerate((*node.lines, *(self._told(link) for link in node.further))):
                canvas.text(x_mm, y_mm + 0.2 + LINE_MM * (i + 1), text, room_mm=room_mm, size_mm=TEXT_MM)

    def _told(self, link: tuple[str, str, str]) -> str:
        _, other, words = link
        number = self.known.sheet_of.get(other, self.number)
        return words if number == self.number else f"{words} (sheet {number})"

    def _groups(self, placed: PlacedNode) -> None:
        if not placed.groups:
            return
        first, last = placed.groups[0], placed.groups[-1]
        start_mm = first.y_mm + GROUP_MM / 2
        x_mm = first.x_mm - 1.5
        if placed.node.ident:
            self.canvas.line((placed.card.right_mm, start_mm), (x_mm, start_mm), pen=symbols.DATA)
        self.canvas.line((x_mm, first.y_mm + 0.3), (x_mm, last.bottom_mm - 0.3), pen=symbols.DATA)
        for group, box in zip(placed.node.groups, placed.groups, strict=True):
            self._group(group, box)

    def _group(self, group: Group, box: Box) -> None:
        canvas = self.canvas
        with canvas.group(group.title, part=group.parts[0][0] if len(group.parts) == 1 else ""):
            if len(group.parts) > 1:
                for part, title in group.parts:
                    with canvas.group(title, part=part):
                        pass
            symbols.draw(canvas, group.sign, box.x_mm, box.y_mm + 0.4)
            x_mm = box.x_mm + 5.2
            if group.is_registrar:
                _registrar(canvas, x_mm + 1.3, box.y_mm + 2.1)
                x_mm += 3.8
            ports_mm = min(_PORTS_MM, box.width_mm / 3)
            baseline_mm = box.y_mm + 2.9
            canvas.text(x_mm, baseline_mm, group.words, room_mm=box.right_mm - x_mm - ports_mm - 1, size_mm=TEXT_MM)
            ports = group.ports
            canvas.text(box.right_mm, baseline_mm, ports, room_mm=ports_mm, size_mm=TEXT_MM, anchor="end", colour=GREY)
            canvas.line((box.x_mm + 5.2, box.bottom_mm), (box.right_mm, box.bottom_mm), pen=Pen(0.13, PALE))


def _info(canvas: Canvas, placed: PlacedCard) -> None:
    card, box = placed.card, placed.box
    if card.heading:
        canvas.line((box.x_mm, box.y_mm + 1.2), (box.right_mm, box.y_mm + 1.2), pen=LINE)
        canvas.text(box.x_mm, box.y_mm + 5.2, card.heading, room_mm=box.width_mm, size_mm=2.6, bold=True)
        return
    with canvas.group(f"{card.name}: {'; '.join(card.lines)}", part=card.part):
        canvas.box(box, pen=FINE, fill=PAPER)
        x_mm = box.x_mm + 1.4
        if card.sign is not None:
            symbols.draw(canvas, card.sign, x_mm, box.y_mm + 0.8)
            x_mm += 5.2
        y_mm = box.y_mm + 3.2
        mark_mm = 4.0 if card.is_registrar else 0.0
        room_mm = box.right_mm - x_mm - 1.2
        canvas.text(x_mm, y_mm, card.name, room_mm=room_mm - mark_mm, size_mm=2.3, bold=True)
        if card.is_registrar:
            _registrar(canvas, box.right_mm - 2.4, box.y_mm + 2.4)
        for i, line in enumerate(card.lines):
            canvas.text(x_mm, y_mm + LINE_MM * (i + 1), line, room_mm=room_mm, size_mm=TEXT_MM)
