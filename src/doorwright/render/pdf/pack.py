"""The site pack: every paper of one revision in one file. It never holds a secret."""

from collections.abc import Sequence
from datetime import date
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

    Returns:
        The bytes of the file, the same for the same input. Papers with nothing to say are left out.
    """
    papers = [
        findings(walk, assessment, sign_offs, checked_on),
        sheets(drawings, site_title(walk.settings().name)),
        run_sheet_paper(walk),
        workdays(schedule),
        cards(walk),
        legends(walk),
        labels(walk),
        weeks(walk, prove(walk)),
        schedules(walk),
        materials(walk),
        forms(walk),
        workings(walk, studies),
        sources_used(assessment, studies),
    ]
    there = [paper for paper in papers if paper is not None]
    site = walk.settings()
    data = {
        "title": f"{TITLE}: {site_title(site.name)}",
        "edition": edition_data(edition, site_title(site.name), site.reference),
        "cover": cover(walk, assessment),
        "papers": [reading(there), *there],
    }
    return press("pack", data, edition)
