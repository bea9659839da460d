"""The schedule of work as a list: each technician's day in full, by the numbers that stand on the chart."""

from doorwright.kernel.words import counted
from doorwright.plan.schedule import Schedule, Visit
from doorwright.render.pdf.papers.paper import Paper


def workdays(schedule: Schedule | None) -> Paper | None:
    """Return the list of work, or None where there is none."""
    if schedule is None or not schedule.visits:
        return None
    assumed = schedule.work.assumed
    return {
        "kind": "workdays",
        "title": "Work by technician",
        "purpose": 'who does what when; the numbers are those of the drawing "Schedule of work"',
        "facts": [
            {"name": "Technicians", "value": str(schedule.technicians)},
            {"name": "Finished after", "value": clock_s(schedule.finish_s)},
            {
                "name": "No schedule can be sooner than",
                "value": f"{clock_s(schedule.bound_s)}: the gap is {100 * schedule.gap_ratio:.1f} %",
            },
            {"name": "One technician, in the order of the run sheet", "value": clock_s(schedule.in_list_order_s)},
            {"name": "Made by", "value": schedule.made_by},
        ],
        "assumed": f"{counted(len(assumed), 'part')} without a place, put at the ground of what they serve: "
        f"{', '.join(assumed)}."
        if assumed
        else "",
        "days": [
            {"title": f"Technician {technician + 1}", "rows": [_row(visit) for visit in schedule.of(technician)]}
            for technician in range(schedule.technicians)
            if schedule.of(technician)
        ],
    }


def clock_s(time_s: int) -> str:
    """Return seconds as hours, minutes and seconds: "3:07:30"."""
    return f"{time_s // 3600}:{time_s % 3600 // 60:02d}:{time_s % 60:02d}"


def _row(visit: Visit) -> dict[str, str]:
    return {
        "start": clock_s(visit.start_s),
        "end": clock_s(visit.end_s),
        "walk": _minutes(visit.walk_s),
        "wait": _minutes(visit.wait_s),
        "number": str(visit.job.number + 1),
        "where": visit.job.where,
        "action": visit.job.action,
    }


def _minutes(time_s: int) -> str:
    return f"{time_s // 60}:{time_s % 60:02d}" if time_s else ""
