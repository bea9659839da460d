"""Call numbers: schemes propose, keypads and reservations limit, conflicts are explained and remedies tried."""

from doorwright.plan.numbering.planner import plan_numbers

__all__ = ["plan_numbers"]
