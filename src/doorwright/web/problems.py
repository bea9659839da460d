"""What goes wrong, told in one shape: a page for people, problem details (RFC 9457) for programs."""

import traceback
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Final

from pydantic_core import to_json
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Person, Role
from doorwright.web.opened import OpenBook
from doorwright.web.remedies import mistakes_on_page, on_page
from doorwright.web.shelf import Shelf
from doorwright.web.showing import frame_of, templates, wants_json

_NOBODY: Final = Person("", Role.LOOK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Problem details of RFC 9457 §3.1, with our extensions ``remedy`` and ``mistakes`` (§3.2)."""

    title: str
    status: int
    detail: str
    remedy: str = ""
    mistakes: tuple[Mistake, ...] = ()
    type: str = "about:blank"


def refused(request: Request, refusal: Exception) -> Response:
    """Answer a request that cannot be carried out: nothing was changed."""
    assert isinstance(refusal, Refused)  # noqa: S101  (Starlette calls this for refusals alone)
    return told(
        request,
        Problem(
            title="That cannot be done",
            status=HTTPStatus.UNPROCESSABLE_ENTITY,
            detail=refusal.message,
            remedy=on_page(refusal.remedy),
            mistakes=mistakes_on_page(refusal.mistakes),
        ),
    )


def not_served(request: Request, error: Exception) -> Response:
    """Answer a request for what is not there, not allowed, or sent in a way that is not taken."""
    assert isinstance(error, HTTPException)  # noqa: S101  (Starlette calls this for such errors alone)
    status = HTTPStatus(error.status_code)
    detail = error.detail if error.detail != status.phrase else f"Nothing is served at {request.url.path}."
    return told(request, Problem(title=status.phrase, status=status, detail=detail), error.headers)


def our_fault(request: Request, error: Exception) -> Response:
    """Answer a request on which we failed ourselves."""
    traceback.print_exception(error)
    problem = Problem(
        title="Doorwright itself failed",
        status=HTTPStatus.INTERNAL_SERVER_ERROR,
        detail="This is a fault of Doorwright's own, not of what you gave it. Nothing was saved.",
        remedy="Try again; where it comes back, report the lines in the window from which Doorwright was started.",
    )
    return told(request, problem)


def _book_of(request: Request) -> OpenBook | None:
    """Return the book that the address names, so that its ways stand around the problem, where it can be opened."""
    named = request.path_params.get("book")
    if named is None or not request.state.person.name:
        return None
    shelf: Shelf = request.app.state.shelf
    try:
        return shelf.open(named)
    except (LookupError, Refused):
        return None


def told(request: Request, problem: Problem, headers: Mapping[str, str] | None = None) -> Response:
    """Return a problem as a page, a piece of one, or problem details."""
    if wants_json(request) or request.url.path.endswith(".json"):
        return Response(to_json(problem), problem.status, headers, "application/problem+json")
    if not hasattr(request.state, "person"):
        request.state.person = _NOBODY
    template = templates().get_template("problem.html")
    values = {"view": problem, "frame": frame_of(request, _book_of(request), problem.title), "request": request}
    if request.headers.get("hx-request") == "true":
        text = "".join(template.blocks["problem"](template.new_context(values)))
    else:
        text = template.render(values)
    return Response(text, problem.status, headers, "text/html")
