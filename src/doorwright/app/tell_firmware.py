"""A firmware plan as plain values: what ``firmware --json`` prints and the page of a plan is made from."""

from typing import Any

from doorwright.app.plan_firmware import FirmwarePlan
from doorwright.model.place import Dwelling
from doorwright.plan.firmware.steps import Step
from doorwright.render.pdf.firmware import back_rows, not_safe


def verdict(planned: FirmwarePlan) -> str:
    """Say whether it is safe to begin, and why not."""
    reasons = not_safe(planned.plan, planned.gaps)
    if not reasons:
        return "The record is complete: nothing is known to be missing."
    return f"Not safe to begin: {'; '.join(reasons)}."


def _step(step: Step) -> dict[str, Any]:
    return {
        "unit": step.unit.name,
        "type": step.unit.profile,
        "from": step.version_from,
        "to": step.version_to,
        "back": step.back,
        "cleared": step.clears,
        "generation_before": step.generation_before,
        "generation_after": step.generation_after,
        "tool_notes": step.tool_notes,
        "no_way_back_from": step.one_way_versions if not step.back else (),
    }


def as_rows(planned: FirmwarePlan) -> dict[str, Any]:
    """Return all of a plan."""
    plan, walk = planned.plan, planned.walk
    return {
        "revision": planned.revision.number,
        "targets": planned.targets,
        "safe_to_begin": planned.is_safe,
        "steps": [_step(step) for step in planned.steps.steps],
        "already": [unit.name for unit in planned.steps.already],
        "untold": [{"unit": one.unit.name, "why": one.why} for one in planned.steps.untold],
        "record_first": [
            {"unit": gap.about.name, "fact": gap.field, "problem": gap.problem, "remedy": gap.remedy}
            for gap in planned.gaps
        ],
        "waves": [
            {
                "number": wave.number,
                "start_min": wave.start_min,
                "end_min": wave.end_min,
                "unreached_most": wave.unreached_most,
                "units": [
                    {"unit": turn.step.unit.name, "start_min": turn.start_min, "end_min": turn.end_min}
                    for turn in wave.turns
                ],
            }
            for wave in plan.waves
        ],
        "slot_min": plan.slot_min,
        "finish_min": plan.finish_min,
        "work_min": plan.work_min,
        "waiting_min": plan.waiting_min,
        "unreached_after": plan.unreached_after,
        "lost_dwelling_min": plan.lost_dwelling_min,
        "lost_bound_min": plan.quality.lost_bound_min,
        "gap_ratio": plan.gap_ratio,
        "order_found_by": plan.quality.how,
        "silences": [
            {
                "unit": one.unit.name,
                "other": one.other.name,
                "silent_min": one.silent_min,
                "apart_min": one.apart_min,
                "for_good": one.for_good,
            }
            for one in planned.silences
        ],
        "not_counted": [
            {"dwelling": dwelling.door_label, "why": why}
            for ident, why in planned.task.unjudged.items()
            if (dwelling := walk.find(Dwelling, ident)) is not None
        ],
        "way_back": back_rows(planned.ways_back),
        "files": planned.files,
    }
