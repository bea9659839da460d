"""What stands before every request: which host is meant, where it comes from, how much is sent."""

import time
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from doorwright.web.flood import Flood
from doorwright.web.problems import not_served

UPLOAD_MOST_BYTES: Final = 64 * 1024 * 1024
"""A survey of 10 000 homes is a hundredth of it; a phone's photograph a tenth."""

_SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
_HEADERS: Final = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=(), usb=()",
}


class Guard:
    """Refuses what names another host or comes from another page, bounds what is sent, and sets the page's limits.

    A page elsewhere could have its own name lead to this machine (DNS rebinding) or send a form here (CSRF): the name
    asked for must be one of ours (``hosts``, with the port), and what changes something must come from our own pages.
    """

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str], flood: Flood | None = None) -> None:
        self._app = app
        self._hosts = hosts
        self._flood = flood

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def with_limits(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    answer.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    answer.setdefault("Cache-Control", "no-store")
            await send(message)

        objection = self._objection(scope, headers)
        if objection is not None:
            await not_served(Request(scope), objection)(scope, receive, with_limits)
            return
        await self._app(scope, _bounded(receive), with_limits)

    def _objection(self, scope: Scope, headers: Headers) -> HTTPException | None:
        address = (scope.get("client") or ("",))[0]
        if self._flood is not None and not self._flood.lets_through(address, at_s=time.monotonic()):
            return HTTPException(429, "too many requests came from your address at once", {"Retry-After": "5"})
        host = headers.get("host", "").lower()
        if host not in self._hosts:
            return HTTPException(421, f"this server does not answer for {host!r}")
        if scope["method"] not in _SAFE_METHODS and not _is_own(scope, headers, host):
            return HTTPException(403, "a page of another site asked for this; it was not done")
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > UPLOAD_MOST_BYTES:
            return HTTPException(413, f"more than {UPLOAD_MOST_BYTES // 1024 // 1024} MiB were to be sent")
        return None


def _is_own(scope: Scope, headers: Headers, host: str) -> bool:
    """Say whether a request comes from our own page: browsers always send one of these with what changes something."""
    origin = headers.get("origin")
    if origin is not None:
        return origin.lower() == f"{scope['scheme']}://{host}"
    return headers.get("sec-fetch-site") == "same-origin"


def _bounded(receive: Receive) -> Receive:
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > UPLOAD_MOST_BYTES:
            raise HTTPException(413, f"more than {UPLOAD_MOST_BYTES // 1024 // 1024} MiB were sent")
        return message

    return bounded
