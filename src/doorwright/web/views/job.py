"""How far a job is, and what it gave."""

from dataclasses import dataclass, replace
from typing import Any, Final

from starlette.exceptions import HTTPException

from doorwright.kernel.errors import Mistake
from doorwright.kernel.person import Role
from doorwright.web.answers import Answer, Go, Page, Said
from doorwright.web.asking import Ask, get, post
from doorwright.web.jobs import Job, State
from doorwright.web.remedies import mistakes_on_page, on_page
from doorwright.web.showing import url


@dataclass(frozen=True, slots=True, kw_only=True)
class JobView:
    """A job as it stands; ``refused`` and what follows are filled where it could not be done."""

    id: str
    title: str
    book: str
    by: str
    state: State
    step: str
    refused: str = ""
    remedy: str = ""
    mistakes: tuple[Mistake, ...] = ()
    gave: Any = None


def page(ask: Ask) -> Answer:
    """Show how far a job is; where it is done, what it gave: its page, or the page it leads to."""
    job = _job(ask)
    if job.state is State.DONE and isinstance(job.answer, Page):
        return replace(job.answer, about=job.book)
    if job.state is State.DONE and isinstance(job.answer, Go):
        return job.answer
    return Page(template="job.html", title=job.title, view=_view(job), part="job", about=job.book)


def as_json(ask: Ask) -> Answer:
    """Tell how far a job is, and with it what it gave."""
    return Said(_view(_job(ask)))


def stop(ask: Ask) -> Answer:
    """Ask a job to stop."""
    job = _job(ask)
    ask.jobs.stop(job.id)
    return Go(url("jobs", job.id))


def _job(ask: Ask) -> Job:
    job = ask.jobs.find(ask.path["job"])
    if job is None:
        raise HTTPException(404, "that work is no longer known here; begin it again")
    if job.by != ask.person.name and not ask.person.may(Role.PLAN):
        raise HTTPException(403, "somebody else began this work")
    return job


def _view(job: Job) -> JobView:
    gave = job.answer
    return JobView(
        id=job.id,
        title=job.title,
        book=job.book,
        by=job.by,
        state=job.state,
        step=job.step,
        refused=job.refused.message if job.refused else "",
        remedy=on_page(job.refused.remedy) if job.refused else "",
        mistakes=mistakes_on_page(job.refused.mistakes) if job.refused else (),
        gave=gave.view if isinstance(gave, Page) else {"to": gave.to} if isinstance(gave, Go) else None,
    )


ROUTES: Final = (
    *get("/jobs/{job}.json", as_json, twin=False),
    *get("/jobs/{job}", page, twin=False),
    *post("/jobs/{job}/stop", stop, needs=Role.LOOK),
)
