"""How answers are shown: pages through templates, values as JSON, files as downloads."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final
from urllib.parse import quote, unquote, urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from pydantic_core import to_json
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from doorwright import __version__
from doorwright.app.demo import SITE as DEMO_SITE
from doorwright.kernel.person import Person, Role
from doorwright.kernel.words import counted, plural
from doorwright.web.answers import Answer, Begun, Download, Go, Page, Said
from doorwright.web.opened import OpenBook
from doorwright.web.tour import STOPS, Stop
from doorwright.web.ways import PHASES, Phase

JSON: Final = "application/json"
_SAID: Final = "said"


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What stands around every page: who looks, at which book, and the ways from here."""

    title: str
    person: Person
    signs_in: bool
    version: str
    path: str
    said: str
    book: str | None
    site: str
    revision: int | None
    phases: tuple[Phase, ...]
    finding_counts: Mapping[str, int] | None

    @property
    def home(self) -> str:
        """The address of the open book."""
        return book_url(self.book) if self.book is not None else "/"

    @property
    def is_demo(self) -> bool:
        """Whether the open book is the demo's: there a newcomer is offered the tour."""
        return self.site == DEMO_SITE

    @property
    def tour(self) -> tuple[Stop, ...]:
        """The stops of the tour."""
        return STOPS

    def may(self, role: str) -> bool:
        """Say whether the person may do what needs a role."""
        return self.person.may(Role(role))


def book_url(name: str, *steps: str, **query: object) -> str:
    """Return the address of a page of a book: each step is quoted."""
    return url("books", name, *steps, **query)


def url(*steps: str, **query: object) -> str:
    """Return an address from its steps, each quoted, and what is asked there; None is left out."""
    asked = urlencode([(key, value) for key, value in query.items() if value is not None])
    return "/" + "/".join(quote(step, safe="") for step in steps) + (f"?{asked}" if asked else "")


@cache
def templates() -> Environment:
    """Return the templates. Everything is escaped; a name that is not there is an error."""
    environment = Environment(
        loader=PackageLoader("doorwright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(url=url, counted=counted, plural=plural)
    return environment


def respond(request: Request, opened: OpenBook | None, answer: Answer, *, as_json: bool = False) -> Response:
    """Return the response that an answer makes."""
    match answer:
        case Page():
            return _page(request, opened, answer, as_json=as_json)
        case Said(value, status):
            return Response(to_json(value), status, media_type=JSON)
        case Go(to, said):
            return _go(request, to, said)
        case Begun(job):
            return _go(request, url("jobs", job.id), "")
        case Download():
            return _download(answer)


def _page(request: Request, opened: OpenBook | None, page: Page, *, as_json: bool) -> Response:
    if as_json or wants_json(request):
        return Response(to_json(page.view, inf_nan_mode="constants"), page.status, media_type=JSON)
    frame = frame_of(request, opened, page.title)
    values = {"view": page.view, "frame": frame, "request": request, **page.facts}
    template = templates().get_template(page.template)
    if page.part is not None and request.headers.get("hx-request") == "true":
        context = template.new_context(values)
        return _html("".join(template.blocks[page.part](context)), page.status)
    response = _html(template.render(values), page.status)
    if frame.said:
        response.delete_cookie(_SAID)
    return response


def _html(text: str, status: int) -> Response:
    return Response(text, status, media_type="text/html")


def wants_json(request: Request) -> bool:
    """Say whether a program asks, not a person at a page."""
    return request.headers.get("accept", "").partition(",")[0].strip().lower() in {JSON, "application/problem+json"}


def _go(request: Request, to: str, said: str) -> Response:
    if wants_json(request):
        return Response(to_json({"to": to, "said": said}), media_type=JSON)
    response: Response
    if request.headers.get("hx-request") == "true":
        response = Response(status_code=204, headers={"HX-Redirect": to})
    else:
        response = RedirectResponse(to, 303)
    if said:
        response.set_cookie(_SAID, quote(said), max_age=60, httponly=True, samesite="strict")
    return response


def _download(file: Download) -> Response:
    how = "inline" if file.inline else "attachment"
    headers = {"Content-Disposition": f"{how}; filename*=UTF-8''{quote(file.name)}"}
    if isinstance(file.content, Path):
        if not file.content.is_file():
            raise HTTPException(404, f"{file.name} is no longer here; make it again")
        return FileResponse(file.content, media_type=file.media_type, headers=headers)
    return Response(file.content, media_type=file.media_type, headers=headers)


def frame_of(request: Request, opened: OpenBook | None, title: str) -> Frame:
    """Return what stands around a page."""
    revision = counts = None
    site = ""
    if opened is not None:
        head, walk = opened.now()
        revision, site = head.number, walk.site.name or opened.name
        judged = opened.judged()
        if judged is not None:
            counts = {severity.value: count for severity, count in judged.assessment.by_severity().items()}
    return Frame(
        title=title,
        person=request.state.person,
        signs_in=request.app.state.gate is not None and bool(request.state.person.name),
        version=__version__,
        path=request.url.path,
        said=unquote(request.cookies.get(_SAID, "")),
        book=opened.name if opened is not None else None,
        site=site,
        revision=revision,
        phases=PHASES if opened is not None else (),
        finding_counts=counts,
    )
