"""How a request reaches a view: who asks, of which book, with what; and how routes say who may ask."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, TypeAlias

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, QueryParams, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Person, Role
from doorwright.web.answers import Answer, Page
from doorwright.web.gate import Gate
from doorwright.web.intake import Intakes
from doorwright.web.jobs import Jobs
from doorwright.web.opened import OpenBook
from doorwright.web.scratch import Scratch
from doorwright.web.shelf import Shelf
from doorwright.web.showing import respond

FIELDS_MOST: Final = 2_000
FILES_MOST: Final = 20
TEXT_MOST_BYTES: Final = 16 * 1024 * 1024
"""The most that one field of a form may hold; files are bounded by the guard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One request, as a view sees it. ``fields`` is the text of a form, ``body`` what a page's program sent as JSON."""

    person: Person
    means: Means
    shelf: Shelf
    jobs: Jobs
    intakes: Intakes
    scratch: Scratch
    path: Mapping[str, str]
    query: QueryParams
    fields: FormData
    body: Any
    opened: OpenBook | None
    by_htmx: bool
    gate: Gate | None = None

    @property
    def book(self) -> OpenBook:
        """The open book that the address names.

        Raises:
            LookupError: the address names none.
        """
        if self.opened is None:
            raise LookupError("no book is named")
        return self.opened

    def text(self, name: str, default: str = "") -> str:
        """Return one field of the form, or of the query, without blanks around it."""
        value = self.fields.get(name, self.query.get(name, default))
        return value.strip() if isinstance(value, str) else default

    def texts(self, name: str) -> tuple[str, ...]:
        """Return every value of one field of the form, or of the query."""
        values = (*self.fields.getlist(name), *self.query.getlist(name))
        return tuple(value for value in values if isinstance(value, str))

    def chosen(self, name: str) -> bool:
        """Say whether a box was ticked."""
        return self.text(name) not in {"", "no", "0", "false"}

    def whole(self, name: str, default: int | None = None) -> int | None:
        """Return one field as a whole number.

        Raises:
            Refused: it is none.
        """
        text = self.text(name)
        if not text:
            return default
        try:
            return int(text)
        except ValueError:
            raise Refused(
                f"{name.replace('_', ' ')}: {text!r} is no whole number", remedy="Write digits alone."
            ) from None

    def upload(self, name: str) -> UploadFile:
        """Return one file of the form.

        Raises:
            Refused: none was given.
        """
        found = self.fields.get(name)
        if not isinstance(found, UploadFile) or not found.filename:
            raise Refused("no file was given", remedy="Choose a file, or drop one on the page.")
        return found


View: TypeAlias = Callable[[Ask], Answer]


class OpenTo(Route):
    """A route that says which role it ``needs``; without that role it answers 403."""

    def __init__(
        self, path: str, endpoint: Callable[[Request], Any], *, needs: Role, name: str, method: str = "GET"
    ) -> None:
        async def allowed(request: Request) -> Response:
            person: Person = request.state.person
            if not person.may(needs):
                raise HTTPException(403, f"this needs the role {needs.value!r}; yours is {person.role.value!r}")
            response: Response = await endpoint(request)
            return response

        super().__init__(path, allowed, methods=[method], name=name)
        self.needs = needs


def get(path: str, view: View, *, needs: Role = Role.LOOK, twin: bool = True) -> tuple[OpenTo, ...]:
    """Return the routes of a page: itself, and its JSON twin under the same address with ``.json`` behind it.

    Files that are fetched have no twin.
    """
    name = f"{view.__module__}.{view.__name__}"
    page = OpenTo(path, _endpoint(view), needs=needs, name=name)
    if not twin:
        return (page,)
    where = "/start.json" if path == "/" else f"{path}.json"
    return (OpenTo(where, _endpoint(view, as_json=True), needs=needs, name=f"{name}.json"), page)


def post(path: str, view: View, *, needs: Role) -> tuple[OpenTo, ...]:
    """Return the route of something that changes something."""
    name = f"{view.__module__}.{view.__name__}"
    return (OpenTo(path, _endpoint(view), needs=needs, name=name, method="POST"),)


def _endpoint(view: View, *, as_json: bool = False) -> Callable[[Request], Any]:
    async def endpoint(request: Request) -> Response:
        fields, body = await _sent(request)
        try:
            return await run_in_threadpool(_answered, request, view, fields, body, as_json=as_json)
        finally:
            await fields.close()

    return endpoint


async def _sent(request: Request) -> tuple[FormData, Any]:
    if request.method == "GET":
        return FormData(), None
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind == "application/json":
        try:
            return FormData(), json.loads(await request.body())
        except (ValueError, RecursionError):
            raise HTTPException(400, "what was sent is no JSON") from None
    if kind in {"application/x-www-form-urlencoded", "multipart/form-data"}:
        return await request.form(max_files=FILES_MOST, max_fields=FIELDS_MOST, max_part_size=TEXT_MOST_BYTES), None
    if kind and request.headers.get("content-length", "0") != "0":
        raise HTTPException(415, f"a form or JSON is taken here, not {kind}")
    return FormData(), None


def _answered(request: Request, view: View, fields: FormData, body: Any, *, as_json: bool) -> Response:
    state = request.app.state
    person: Person = request.state.person
    shelf: Shelf = state.shelf
    named = request.path_params.get("book")
    try:
        opened = shelf.open(named) if named is not None else None
    except LookupError as error:
        raise HTTPException(404, str(error)) from None
    ask = Ask(
        person=person,
        means=replace(state.means, who=person.name),
        shelf=shelf,
        jobs=state.jobs,
        scratch=state.scratch,
        intakes=state.intakes,
        path=request.path_params,
        query=request.query_params,
        fields=fields,
        body=body,
        opened=opened,
        by_htmx=request.headers.get("hx-request") == "true",
        gate=state.gate,
    )
    answer = view(ask)
    if opened is None and isinstance(answer, Page) and answer.about:
        opened = shelf.open(answer.about)
    return respond(request, opened, answer, as_json=as_json)
