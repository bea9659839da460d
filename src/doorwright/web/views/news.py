"""Streams of news: of a book, of a job."""

from collections.abc import Callable
from typing import Final

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from doorwright.kernel.person import Role
from doorwright.web.asking import OpenTo
from doorwright.web.bulletin import Bulletin


def _stream(path: str, name: str, topic_of: Callable[[Request], str]) -> OpenTo:
    async def endpoint(request: Request) -> Response:
        bulletin: Bulletin = request.app.state.bulletin
        return StreamingResponse(bulletin.listen(topic_of(request)), media_type="text/event-stream")

    return OpenTo(path, endpoint, needs=Role.LOOK, name=name)


ROUTES: Final = (
    _stream("/books/{book}/news", "news.book", lambda request: f"book {request.path_params['book']}"),
    _stream("/jobs/{job}/news", "news.job", lambda request: f"job {request.path_params['job']}"),
)
