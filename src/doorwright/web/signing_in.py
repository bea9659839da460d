"""Who is at the page: the person at this machine, or whoever has signed in."""

from http.cookies import SimpleCookie
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from doorwright.kernel.person import Person, Role
from doorwright.web.gate import Gate
from doorwright.web.problems import not_served
from doorwright.web.showing import url, wants_json

COOKIE: Final = "__Host-doorwright"
"""Kept by browsers only from TLS, for this host alone (RFC 6265bis §4.1.3.2)."""
NOBODY: Final = Person("", Role.LOOK)
_OPEN_TO_ALL: Final = ("/static/", "/sign-in")


class SigningIn:
    """Gives every request the person who asks; without a gate that is whoever started the server."""

    def __init__(self, app: ASGIApp, *, who: str, gate: Gate | None) -> None:
        self._app = app
        self._own = Person(who, Role.ADMIN)
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through with its person, or send it to the sign-in page."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        state = scope.setdefault("state", {})
        if self._gate is None:
            state["person"] = self._own
        else:
            person = await run_in_threadpool(self._gate.who, token_of(Headers(scope=scope)))
            if person is None and not scope["path"].startswith(_OPEN_TO_ALL):
                await self._send_away(Request(scope))(scope, receive, send)
                return
            state["person"] = person or NOBODY
        await self._app(scope, receive, send)

    @staticmethod
    def _send_away(request: Request) -> ASGIApp:
        piece = request.headers.get("hx-request") == "true"
        if request.method == "GET" and not wants_json(request) and not request.url.path.endswith(".json") and not piece:
            return RedirectResponse(url("sign-in", next=request.url.path), 303)
        request.state.person = NOBODY
        return not_served(request, HTTPException(401, "sign in first, then ask again"))


def token_of(headers: Headers) -> str:
    """Return the session token that a browser sends, or nothing."""
    cookies: SimpleCookie = SimpleCookie()
    cookies.load(headers.get("cookie", ""))
    return cookies[COOKIE].value if COOKIE in cookies else ""
