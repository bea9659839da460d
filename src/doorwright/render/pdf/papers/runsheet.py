"""The run sheet: the work on site in order, with minutes and room for the time and the initials."""

from itertools import groupby

from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import STAGES, Task, run_sheet
from doorwright.render.pdf.papers.cards import group_of
from doorwright.render.pdf.papers.paper import Paper


def _title(walk: Walk, task: Task) -> str:
    """Return the heading of a task: its stage; in the dwellings, also the core and level."""
    stage = STAGES[task.stage]
    first = task.parts[0]
    return f"{stage}: {group_of(walk, first)}" if task.stage == "dwellings" and isinstance(first, Unit) else stage


def run_sheet_paper(walk: Walk) -> Paper | None:
    """Return the run sheet, or None where there is nothing to do."""
    tasks = run_sheet(walk)
    if not tasks:
        return None
    total_min = sum(task.minutes for task in tasks)
    needs = f"{total_min // 60} h {total_min % 60:02d} min for one technician"
    return {
        "kind": "runsheet",
        "title": "Run sheet",
        "purpose": "the work on site in order: power up, pair, let settle, look again, test",
        "total": f"{len(tasks)} steps, {needs}, tests not counted.",
        "stages": [
            {
                "stage": title,
                "tasks": [
                    {
                        "number": str(task.number),
                        "where": task.where,
                        "action": task.action,
                        "minutes": str(task.minutes) if task.minutes else "",
                    }
                    for task in group
                ],
            }
            for title, group in groupby(tasks, key=lambda task: _title(walk, task))
        ],
    }
