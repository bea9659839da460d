"""Streams of news: of a book, of a job."""

from collections.abc import Callable
from functools import partial
from typing import Final

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from doorwright.kernel.person import Role
from doorwright.web.asking import OpenTo
from doorwright.web.bulletin import Bulletin, News
from doorwright.web.opened import judged_news
from doorwright.web.shelf import Shelf


def _stream(path: str, name: str, topic_of: Callable[[Request], str]) -> OpenTo:
    async def endpoint(request: Request) -> Response:
        bulletin: Bulletin = request.app.state.bulletin
        known = partial(_findings, request) if "looking" in request.query_params else None
        return StreamingResponse(bulletin.listen(topic_of(request), known), media_type="text/event-stream")

    return OpenTo(path, endpoint, needs=Role.LOOK, name=name)


def _findings(request: Request) -> News | None:
    """Return what the rules find, for a page that was drawn before they had looked; None while they still look."""
    shelf: Shelf = request.app.state.shelf
    try:
        judged = shelf.open(request.path_params["book"]).judged()
    except LookupError:
        return None
    return judged_news(judged) if judged is not None else None


ROUTES: Final = (
    _stream("/books/{book}/news", "news.book", lambda request: f"book {request.path_params['book']}"),
    _stream("/jobs/{job}/news", "news.job", lambda request: f"job {request.path_params['job']}"),
)
