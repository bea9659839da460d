"""The web application put together: routes, guard, errors, and what lives as long as the server does."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path
from typing import Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.web import problems
from doorwright.web.bulletin import Bulletin
from doorwright.web.flood import Flood
from doorwright.web.gate import Gate
from doorwright.web.guard import Guard
from doorwright.web.intake import Intakes
from doorwright.web.jobs import Jobs
from doorwright.web.scratch import Scratch
from doorwright.web.shelf import Shelf
from doorwright.web.signing_in import SigningIn
from doorwright.web.views import ROUTES

STATIC: Final = Path(str(resources.files("doorwright.web"))) / "static"


def application(place: Path, means: Means, *, hosts: frozenset[str], gate: Gate | None = None) -> Starlette:
    """Return the application that shows the books of a folder, or one book.

    Args:
        place: the folder, or the book.
        means: the world; its ``who`` is the person at this machine.
        hosts: every host and port by which browsers may ask for it, such as ``127.0.0.1:8620``.
        gate: who may come in, where others than this machine reach it.

    Raises:
        Refused: there is nothing at ``place``.
    """
    bulletin = Bulletin()
    shelf = Shelf(place, means, bulletin)
    jobs = Jobs(bulletin)
    scratch = Scratch()

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        bulletin.start()
        yield
        jobs.close()
        shelf.close()
        scratch.close()

    app = Starlette(
        routes=[*ROUTES, Mount("/static", StaticFiles(directory=STATIC), name="static")],
        middleware=[
            Middleware(Guard, hosts=hosts, flood=Flood() if gate is not None else None),
            Middleware(SigningIn, who=means.who, gate=gate),
        ],
        exception_handlers={
            Refused: problems.refused,
            HTTPException: problems.not_served,
            Exception: problems.our_fault,
        },
        lifespan=life,
    )
    app.state.shelf = shelf
    app.state.jobs = jobs
    app.state.scratch = scratch
    app.state.intakes = Intakes(means.now)
    app.state.means = means
    app.state.gate = gate
    app.state.bulletin = bulletin
    return app
