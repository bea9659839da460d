"""The site pack: every paper of one revision in one file. It never holds a secret."""

from collections.abc import Callable, Sequence
from datetime import date
from types import MappingProxyType
from typing import Any, Final

from doorwright.kernel.signoff import SignOff
from doorwright.model.naming import site_title
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.schedule import Schedule
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.cards import cards
from doorwright.render.pdf.papers.cover import cover
from doorwright.render.pdf.papers.drawings import sheets
from doorwright.render.pdf.papers.findings import findings
from doorwright.render.pdf.papers.forms import forms
from doorwright.render.pdf.papers.labels import labels
from doorwright.render.pdf.papers.legends import legends
from doorwright.render.pdf.papers.materials import materials
from doorwright.render.pdf.papers.paper import Paper
from doorwright.render.pdf.papers.reading import reading
from doorwright.render.pdf.papers.runsheet import run_sheet_paper
from doorwright.render.pdf.papers.schedules import schedules
from doorwright.render.pdf.papers.sources import sources_used
from doorwright.render.pdf.papers.weeks import weeks
from doorwright.render.pdf.papers.workdays import workdays
from doorwright.render.pdf.papers.workings import workings
from doorwright.render.pdf.press import edition_data, press
from doorwright.render.svg.sheet import Drawing
from doorwright.rules.judge import Assessment
from doorwright.studies.study import Study

TITLE: Final = "Site pack"
PAPERS: Final = MappingProxyType(
    {
        "findings": "Findings",
        "drawings": "Drawings",
        "runsheet": "Run sheet",
        "workdays": "Work by technician",
        "cards": "Unit cards",
        "legends": "Key legends",
        "labels": "Labels",
        "weeks": "Who rings when",
        "schedules": "Schedules",
        "materials": "Bill of materials",
        "forms": "As-built and test forms",
        "workings": "Workings",
    }
)
"""The papers that are also printed alone, by kind; the sources go with the workings."""


def pack_pdf(
    *,
    walk: Walk,
    assessment: Assessment,
    studies: Sequence[Study[Any]],
    drawings: Sequence[Drawing],
    edition: Edition,
    sign_offs: Sequence[SignOff] = (),
    checked_on: date = date.min,
    schedule: Schedule | None = None,
    only: str | None = None,
) -> bytes:
    """Return the site pack of one revision as a tagged PDF (PDF/UA-1).

    Args:
        walk: the way around the site.
        assessment: what the rules say of it.
        studies: what was calculated for it.
        drawings: its drawings, each on a page of its own size, in this order.
        edition: what the cover and the footers say.
        sign_offs: what people have given their word on.
        checked_on: the day on which the rules were asked; sign-offs that had ended by then are marked.
        schedule: the work shared among technicians, told job by job where it is given.
        only: one kind of ``PAPERS``, to print that alone: without cover, and without what is not needed for it.

    Returns:
        The bytes of the file, the same for the same input. Papers with nothing to say are left out.

    Raises:
        LookupError: the one paper that is wanted has nothing to say.
    """
    makers: dict[str, Callable[[], Paper | None]] = {
        "findings": lambda: findings(walk, assessment, sign_offs, checked_on),
        "drawings": lambda: sheets(drawings, site_title(walk.settings().name)),
        "runsheet": lambda: run_sheet_paper(walk),
        "workdays": lambda: workdays(schedule),
        "cards": lambda: cards(walk),
        "legends": lambda: legends(walk),
        "labels": lambda: labels(walk),
        "weeks": lambda: weeks(walk, prove(walk)),
        "schedules": lambda: schedules(walk),
        "materials": lambda: materials(walk),
        "forms": lambda: forms(walk),
        "workings": lambda: workings(walk, studies),
        "sources": lambda: sources_used(assessment, studies),
    }
    wanted = tuple(makers) if only is None else ("workings", "sources") if only == "workings" else (only,)
    there = [paper for kind in wanted if (paper := makers[kind]()) is not None]
    if not there:
        raise LookupError(f"the site has nothing for the paper {only}")
    site = walk.settings()
    data = {
        "title": f"{TITLE if only is None else PAPERS[only]}: {site_title(site.name)}",
        "edition": edition_data(edition, site_title(site.name), site.reference),
        "cover": cover(walk, assessment) if only is None else None,
        "papers": [reading(there), *there] if only is None else there,
    }
    return press("pack", data, edition)
