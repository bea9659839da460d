"""Reads a drawing back from its SVG text, so that tests judge the paper and not the program that made it."""

import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass

from doorwright.render.svg import lettering, sheet
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing

_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Lettering:
    """One visible line of text: what it says, its size, and about what room it takes."""

    text: str
    size_mm: float
    box: Box


def root_of(drawing: Drawing) -> ET.Element:
    """Parse the drawing; a document that is not well-formed fails here."""
    return ET.fromstring(drawing.svg)  # noqa: S314  (our own output)


def letterings(drawing: Drawing) -> list[Lettering]:
    """Every visible text. Heights are those of capitals and figures, 0.72 of the font size in both families."""
    found = []
    for element in root_of(drawing).iter(f"{_SVG}text"):
        title = element.find(f"{_SVG}title")
        text = (element.text or "") + ((title.tail or "") if title is not None else "")
        size_mm = float(element.attrib["font-size"])
        bold = element.get("font-weight") == "bold"
        width_mm = lettering.width_mm(text, size_mm, bold=bold)
        x_mm = float(element.attrib["x"])
        x_mm -= {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")] * width_mm
        y_mm = float(element.attrib["y"])
        found.append(Lettering(text, size_mm, Box(x_mm, y_mm - 0.72 * size_mm, width_mm, 0.72 * size_mm)))
    return found


def shapes(drawing: Drawing) -> list[Box]:
    """The extent of every shape but the white ground."""
    found = []
    for element in root_of(drawing).iter():
        a = element.attrib
        if element.tag == f"{_SVG}rect" and "x" in a:
            found.append(Box(float(a["x"]), float(a["y"]), float(a["width"]), float(a["height"])))
        elif element.tag == f"{_SVG}circle":
            r = float(a["r"])
            found.append(Box(float(a["cx"]) - r, float(a["cy"]) - r, 2 * r, 2 * r))
        elif "points" in a:
            points = [tuple(map(float, point.split(","))) for point in a["points"].split()]
            xs, ys = [x for x, _ in points], [y for _, y in points]
            found.append(Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)))
    return found


def parts(drawings: tuple[Drawing, ...]) -> Counter[str]:
    """How often each part of the site is drawn, over all sheets."""
    return Counter(e.attrib["data-part"] for d in drawings for e in root_of(d).iter() if "data-part" in e.attrib)


def words_of(drawings: tuple[Drawing, ...], part: str) -> str:
    """Everything visible or titled in the group of one part, with its sub-groups."""
    for drawing in drawings:
        for element in root_of(drawing).iter():
            if element.get("data-part") == part:
                return " | ".join(text for text in element.itertext() if text.strip())
    raise LookupError(part)


def all_words(drawings: tuple[Drawing, ...]) -> str:
    """Everything that any sheet says."""
    return "\n".join(text for drawing in drawings for text in root_of(drawing).itertext())


def overlapping(boxes: list[tuple[str, Box]]) -> list[tuple[str, str]]:
    """Pairs that overlap, found by a sweep over x."""
    found = []
    ordered = sorted(boxes, key=lambda named: named[1].x_mm)
    for i, (name, box) in enumerate(ordered):
        for other_name, other in ordered[i + 1 :]:
            if other.x_mm >= box.right_mm:
                break
            if box.overlaps(other, slack_mm=0.05):
                found.append((name, other_name))
    return found


def misplaced(drawing: Drawing) -> list[str]:
    """What lies on another or leaves the frame: texts that overlap, texts outside, shapes outside."""
    letters = letterings(drawing)
    pairs = overlapping([(letter.text, letter.box) for letter in letters])
    return [
        *(f"{one!r} and {other!r} overlap" for one, other in pairs),
        *(f"{letter.text!r} is outside" for letter in letters if not sheet.FRAME.holds(letter.box)),
        *(f"{shape} is outside" for shape in shapes(drawing) if not sheet.FRAME.holds(shape, slack_mm=0.3)),
    ]


def legend(drawing: Drawing) -> list[str]:
    """What the foot of a sheet says beside the title block: the legend and the cautions."""
    foot_mm = sheet.FRAME.bottom_mm - sheet.FOOT_MM
    block_mm = sheet.FRAME.right_mm - 150.0
    return [line.text for line in letterings(drawing) if line.box.y_mm > foot_mm and line.box.right_mm < block_mm]
