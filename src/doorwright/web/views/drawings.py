"""The drawings of a book: all of them side by side, and each as a sheet to look around on."""

from dataclasses import dataclass
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.draw import SERIES, SERIES_BY_NAME, Material, Series, series_of
from doorwright.model.walk import Walk
from doorwright.render.svg import Drawing
from doorwright.web.answers import Answer, Download, Go, Page
from doorwright.web.asking import Ask, get
from doorwright.web.making import WAIT_S, BeingMade, Tell
from doorwright.web.showing import book_url

_SVG: Final = "image/svg+xml"
_FILE_WAIT_S: Final = 600.0
"""A drawing that is fetched as a file is waited for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A sheet of a series, counted from 1."""

    name: str
    title: str
    number: int
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesLine:
    """A series with its sheets; ``step`` says how far it is while it is still being drawn, and is empty then."""

    name: str
    title: str
    shows: str
    step: str
    sheets: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingsView:
    """All drawings of a revision."""

    revision: int
    ready: bool
    series: tuple[SeriesLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetView:
    """One sheet: its place in its series, its size on paper, its file, and the sheets before and behind it.

    ``step`` says how far the series is while it is still being drawn; there is no sheet then.
    """

    revision: int
    series: SeriesLine
    step: str
    sheet: SheetLine | None
    width_mm: float = 0.0
    height_mm: float = 0.0
    file: str = ""
    before: str | None = None
    behind: str | None = None


def material(ask: Ask) -> Material:
    """Return what the drawings of the newest revision are made of, the same for every page."""
    head, walk = ask.book.now()
    # a way around of its own: the rules note what they look up in theirs
    return ask.book.makings.held("material", head.number, lambda: Material(Walk(walk.site), head))


def drawn(ask: Ask, series: Series, *, wait_s: float = WAIT_S) -> tuple[Drawing, ...] | BeingMade:
    """Return the drawings of a series, or how far they are."""
    made_of = material(ask)

    def draw(tell: Tell) -> tuple[Drawing, ...]:
        tell("drawing")
        return series.draw(made_of)

    return ask.book.makings.of(f"drawings {series.name}", ask.book.now()[0].number, draw, wait_s=wait_s)


def series_line(ask: Ask, series: Series, *, wait_s: float = WAIT_S) -> SeriesLine:
    """Return a series with its sheets, or how far it is."""
    made = drawn(ask, series, wait_s=wait_s)
    sheets = () if isinstance(made, BeingMade) else made
    return SeriesLine(
        name=series.name,
        title=series.title,
        shows=series.shows,
        step=made.step if isinstance(made, BeingMade) else "",
        sheets=tuple(
            SheetLine(
                name=sheet.name,
                title=sheet.title,
                number=number,
                address=book_url(ask.book.name, "drawings", sheet.name),
            )
            for number, sheet in enumerate(sheets, start=1)
        ),
    )


def page(ask: Ask) -> Answer:
    """Show all drawings."""
    lines: list[SeriesLine] = []
    for series in SERIES:
        waited = any(line.step for line in lines)
        lines.append(series_line(ask, series, wait_s=0.0 if waited else WAIT_S))
    ready = not any(line.step for line in lines)
    view = DrawingsView(revision=ask.book.now()[0].number, ready=ready, series=tuple(lines))
    return Page(template="drawings/drawings.html", title="Drawings", view=view)


def sheet(ask: Ask) -> Answer:
    """Show one sheet. The name of a series alone leads to its first sheet."""
    name = ask.path["name"]
    series = _series(name)
    line = series_line(ask, series)
    revision = ask.book.now()[0].number
    if line.step:
        view = SheetView(revision=revision, series=line, step=line.step, sheet=None)
        return Page(template="drawings/sheet.html", title=series.title, view=view, facts={"svg": ""})
    made = drawn(ask, series)
    here = next((one for one in line.sheets if one.name == name), None)
    if here is None or isinstance(made, BeingMade):
        if name != series.name:
            raise HTTPException(404, f"there is no drawing {name!r} of revision {revision}")
        if line.sheets:
            return Go((line.sheets[-1] if ask.chosen("last") else line.sheets[0]).address)
        view = SheetView(revision=revision, series=line, step="", sheet=None)
        return Page(template="drawings/sheet.html", title=series.title, view=view, facts={"svg": ""})
    drawing = made[here.number - 1]
    view = SheetView(
        revision=revision,
        series=line,
        step="",
        sheet=here,
        width_mm=drawing.width_mm,
        height_mm=drawing.height_mm,
        file=f"{here.address}.svg",
        before=line.sheets[here.number - 2].address if here.number > 1 else _neighbour(ask, series, -1),
        behind=line.sheets[here.number].address if here.number < len(line.sheets) else _neighbour(ask, series, 1),
    )
    facts = {"svg": inline(drawing.svg)}
    return Page(template="drawings/sheet.html", title=f"{series.title}, sheet {here.number}", view=view, facts=facts)


def file(ask: Ask) -> Answer:
    """Give one sheet as a file."""
    name = ask.path["name"]
    made = drawn(ask, _series(name), wait_s=_FILE_WAIT_S)
    drawing = None if isinstance(made, BeingMade) else next((one for one in made if one.name == name), None)
    if drawing is None:
        raise HTTPException(404, f"there is no drawing {name!r}")
    return Download(name=f"{name}.svg", media_type=_SVG, content=drawing.svg.encode(), inline=True)


def inline(svg: str) -> str:
    """Return a drawing as it may stand in a page: without the declaration that opens a file."""
    return svg[svg.index("<svg") :]


def _series(name: str) -> Series:
    series = series_of(name)
    if series is None:
        raise HTTPException(404, f"there is no drawing {name!r}; drawings are: {', '.join(SERIES_BY_NAME)}")
    return series


def _neighbour(ask: Ask, series: Series, step: int) -> str | None:
    """Return the address of the next series that has drawings, or may have."""
    at = SERIES.index(series) + step
    while 0 <= at < len(SERIES):
        made = drawn(ask, SERIES[at], wait_s=0.0)
        if made:
            last = 1 if step < 0 else None
            return book_url(ask.book.name, "drawings", SERIES[at].name, last=last)
        at += step
    return None


ROUTES: Final = (
    *get("/books/{book}/drawings", page),
    *get("/books/{book}/drawings/{name}.svg", file, twin=False),
    *get("/books/{book}/drawings/{name}", sheet),
)
