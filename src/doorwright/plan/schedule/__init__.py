"""The run sheet as a schedule: the work on site shared among technicians so that it is finished soonest."""

from doorwright.plan.schedule.places import Pace, Spot, walk_s
from doorwright.plan.schedule.schedule import Schedule, Visit, make_schedule
from doorwright.plan.schedule.work import After, Job, Times, Work, work_of

__all__ = ["After", "Job", "Pace", "Schedule", "Spot", "Times", "Visit", "Work", "make_schedule", "walk_s", "work_of"]
