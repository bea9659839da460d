"""Signing in and out."""

import math
from dataclasses import dataclass
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from doorwright.kernel.person import Role
from doorwright.web.answers import Page
from doorwright.web.asking import OpenTo
from doorwright.web.gate import Gate, Wait
from doorwright.web.sessions import LASTS_S
from doorwright.web.showing import respond
from doorwright.web.signing_in import COOKIE, token_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """Where to go afterwards, the name as typed, and what was wrong with the last try."""

    next: str
    name: str = ""
    problem: str = ""


async def page(request: Request) -> Response:
    """Show the form."""
    _gate(request)
    return _shown(request, SignIn(next=_own_path(request.query_params.get("next", "/"))), 200)


async def sign_in(request: Request) -> Response:
    """Take a name and password."""
    gate = _gate(request)
    fields = await request.form(max_files=0, max_fields=5, max_part_size=4096)
    name, password = f"{fields.get('name', '')}", f"{fields.get('password', '')}"
    to = _own_path(f"{fields.get('next', '/')}")
    address = request.client.host if request.client else ""
    token = await run_in_threadpool(gate.let_in, name, password, address)
    if isinstance(token, Wait):
        seconds = math.ceil(token.seconds)
        problem = f"Too many wrong tries. The next counts in {seconds} s."
        response = _shown(request, SignIn(next=to, name=name, problem=problem), 429)
        response.headers["Retry-After"] = str(seconds)
        return response
    if token is None:
        return _shown(request, SignIn(next=to, name=name, problem="Name and password do not belong together."), 401)
    response = RedirectResponse(to, 303)
    response.set_cookie(COOKIE, token, max_age=int(LASTS_S), secure=True, httponly=True, samesite="strict")
    return response


async def sign_out(request: Request) -> Response:
    """Forget the browser."""
    gate = _gate(request)
    address = request.client.host if request.client else ""
    await run_in_threadpool(gate.sign_out, token_of(request.headers), address)
    response = RedirectResponse("/sign-in", 303)
    response.delete_cookie(COOKIE, secure=True, httponly=True, samesite="strict")
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


def _gate(request: Request) -> Gate:
    gate: Gate | None = request.app.state.gate
    if gate is None:
        raise HTTPException(404, "nobody signs in here: only this machine reaches this server")
    return gate


def _shown(request: Request, view: SignIn, status: int) -> Response:
    return respond(request, None, Page(template="sign_in.html", title="Sign in", view=view, status=status))


def _own_path(text: str) -> str:
    """Return a path of our own, whatever was asked for: no other site, no other scheme."""
    is_own = text.startswith("/") and not text.startswith(("//", "/\\")) and text.isprintable() and "\\" not in text
    return text if is_own else "/"


ROUTES: Final = (
    OpenTo("/sign-in", page, needs=Role.LOOK, name="sign_in.page"),
    OpenTo("/sign-in", sign_in, needs=Role.LOOK, name="sign_in.sign_in", method="POST"),
    OpenTo("/sign-out", sign_out, needs=Role.LOOK, name="sign_in.sign_out", method="POST"),
)
