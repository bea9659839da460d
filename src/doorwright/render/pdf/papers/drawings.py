"""The drawings, each on a page of its own size."""

from collections.abc import Sequence

from doorwright.render.pdf.papers.paper import Paper
from doorwright.render.svg.sheet import Drawing


def sheets(drawings: Sequence[Drawing], site: str) -> Paper | None:
    """Return the paper of drawings, or None where there are none; ``site`` is what the site is called."""
    if not drawings:
        return None
    return {
        "kind": "drawings",
        "title": "Drawings",
        "purpose": "the building and its levels, the network, power, the entrances, the work in time; print on A3, "
        "landscape: on A4 the smallest letters are 1.3 mm, on a telephone enlarge them",
        "sheets": [
            {
                "name": drawing.name,
                "title": drawing.title.removeprefix(f"{site}: "),
                "svg": drawing.svg,
                "width_mm": drawing.width_mm,
                "height_mm": drawing.height_mm,
            }
            for drawing in drawings
        ],
    }
