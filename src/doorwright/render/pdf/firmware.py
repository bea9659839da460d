"""The paper of a firmware step: what to record first, the order of work in waves, who falls silent, the way back."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from doorwright.model.place import Dwelling
from doorwright.model.walk import Walk
from doorwright.plan.firmware.pairs import Silence
from doorwright.plan.firmware.record import Gap
from doorwright.plan.firmware.steps import Step, Steps
from doorwright.plan.firmware.waves import Wave, WavePlan
from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.papers.paper import site_title
from doorwright.render.pdf.press import edition_data, press

TITLE: Final = "Firmware plan"
CAUTIONS: Final = (
    "Do not begin while a fact is missing from the record: a cleared unit cannot be asked any more.",
    "While a unit is down nobody can be called from it and it frees no door. Tell those who live there, and the desk. "
    "See to it that locks on escape routes open as the fire strategy and the local code ask, whatever the units do.",
    "Do not take the power or the network from a unit while it loads. Feed its switch from a supply that holds.",
    "A changed unit may need a newer program of its maker to be set up. Have it, and have tried it, before you begin.",
    "Step one unit of each type on the bench first.",
)


def firmware_pdf(
    *,
    walk: Walk,
    steps: Steps,
    plan: WavePlan,
    silences: Sequence[Silence],
    gaps: Sequence[Gap],
    ways_back: Sequence[tuple[Step, Step]],
    unjudged: Mapping[str, str],
    edition: Edition,
) -> bytes:
    """Return the firmware plan as a tagged PDF (PDF/UA-1), the same for the same input. It holds no secret."""
    site = walk.settings()
    name = site_title(site.name)
    data = {
        "title": f"{TITLE}: {name}",
        "site": name,
        "edition": edition_data(edition, name, site.reference),
        "cautions": list(CAUTIONS),
        "not_safe": not_safe(plan, gaps),
        "gaps": [
            {
                "about": gap.about.name,
                "field": gap.field,
                "problem": gap.problem,
                "remedy": gap.remedy,
                "at": gap.unit.name,
            }
            for gap in gaps
        ],
        "types": type_rows(steps.steps),
        "notes": _tool_notes(steps.steps),
        "untold": [{"unit": one.unit.name, "why": one.why} for one in steps.untold],
        "already": len(steps.already),
        "figures": figures(plan),
        "waves": [_wave(wave, plan) for wave in plan.waves],
        "chart": _chart(plan),
        "silences": [
            {
                "unit": one.unit.name,
                "other": one.other.name,
                "what": one.what,
                "silent": clock(one.silent_min),
                "apart": clock(one.apart_min),
                "for_good": one.for_good,
            }
            for one in silences
        ],
        "back": back_rows(ways_back),
        "unjudged": [
            {"dwelling": dwelling.door_label, "why": why}
            for ident, why in unjudged.items()
            if (dwelling := walk.find(Dwelling, ident)) is not None
        ],
    }
    return press("firmware", data, edition)


def not_safe(plan: WavePlan, gaps: Sequence[Gap]) -> list[str]:
    """Return why the work must not begin yet; nothing where it may."""
    reasons = []
    if gaps:
        reasons.append(f"{len(gaps)} {'fact is' if len(gaps) == 1 else 'facts are'} missing from the record")
    if plan.unreached_after:
        count = plan.unreached_after
        cut_off = f"{count} {'dwelling' if count == 1 else 'dwellings'} would stay cut off when all is done"
        reasons.append(f"{cut_off}: step what is paired with them too")
    return reasons


def clock(minutes: int) -> str:
    """Return minutes as hours and minutes: "2:05"."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def type_rows(steps: Iterable[Step]) -> list[dict[str, Any]]:
    """Return what the step does, one row for each type and present version."""

    def key(step: Step) -> tuple[str, str, str]:
        return step.unit.profile, step.version_from, step.version_to

    rows = []
    for (profile, here, there), group in groupby(sorted(steps, key=key), key=key):
        alike = list(group)
        step = alike[0]
        rows.append(
            {
                "type": profile,
                "from": here,
                "to": there,
                "units": str(len(alike)),
                "settings": f"cleared by {', '.join(step.clearing_versions)}" if step.clears else "kept",
                "generation": _generations(step),
            }
        )
    return rows


def _tool_notes(steps: Iterable[Step]) -> list[dict[str, str]]:
    """Return each note on the maker's program once, with the types it is for."""
    types: dict[str, dict[str, None]] = {}
    for step in steps:
        for note in step.tool_notes:
            types.setdefault(note, {})[step.unit.profile] = None
    return [{"text": note, "types": ", ".join(sorted(keys))} for note, keys in types.items()]


def _generations(step: Step) -> str:
    return f"{step.generation_before} to {step.generation_after}" if step.crosses else f"stays {step.generation_after}"


def back_rows(ways_back: Iterable[tuple[Step, Step]]) -> list[dict[str, str]]:
    """Return what a return to the old version would do, one row for each type and version."""
    counts = Counter(
        (there.unit.profile, there.version_from, there.version_to, there.clearing_versions, there.crosses)
        for _, there in ways_back
    )
    return [
        {
            "type": profile,
            "from": here,
            "to": there,
            "units": "1 unit" if count == 1 else f"{count} units",
            "what": _back_words(clearing, crosses=crosses),
        }
        for (profile, here, there, clearing, crosses), count in counts.items()
    ]


def _back_words(clearing: tuple[str, ...], *, crosses: bool) -> str:
    what = f"cleared again, leaving {', '.join(clearing)}" if clearing else "settings kept"
    return f"{what}; must go back together with what it is paired with" if crosses else what


def figures(plan: WavePlan) -> list[dict[str, str]]:
    """Return the figures of a plan, in words: time, work, dwellings, and how good the order is."""
    bound, gap, end_bound = plan.quality.lost_bound_min, plan.gap_ratio, plan.quality.end_bound_min
    best = "no bound is known" if bound is None or gap is None else f"at best {bound:,}; gap {gap:.0%}"
    time = "" if end_bound is None or gap else f" (at best {clock(end_bound)})"
    hands = "1 technician" if plan.technicians_count == 1 else f"{plan.technicians_count} technicians"
    return [
        {"name": "Done after", "value": f"{clock(plan.finish_min)}{time}, with {hands}"},
        {"name": "Work", "value": clock(plan.work_min)},
        {"name": "Waiting", "value": clock(plan.waiting_min)},
        {"name": "Dwelling-minutes without any entrance", "value": f"{plan.lost_dwelling_min:,} ({best})"},
        {"name": "Most dwellings at once without any", "value": str(max(plan.unreached, default=0))},
        {"name": "Order found by", "value": plan.quality.how},
        {"name": "Counted in slots of", "value": f"{plan.slot_min} min"},
    ]


def _wave(wave: Wave, plan: WavePlan) -> dict[str, Any]:
    whole = max(plan.finish_min, 1)
    return {
        "number": str(wave.number),
        "start": clock(wave.start_min),
        "end": clock(wave.end_min),
        "units": [turn.step.unit.name for turn in wave.turns],
        "cleared": str(sum(turn.step.clears for turn in wave.turns)),
        "unreached": str(wave.unreached_most),
        "left_ratio": wave.start_min / whole,
        "width_ratio": (wave.end_min - wave.start_min) / whole,
    }


def _chart(plan: WavePlan) -> dict[str, Any]:
    most = max(plan.unreached, default=0)
    hours = range(0, plan.finish_min + 1, _mark_min(plan.finish_min))
    return {
        "bars": [count / most if most else 0 for count in plan.unreached],
        "most": str(most),
        "marks": [{"at_ratio": minute / max(plan.finish_min, 1), "text": clock(minute)} for minute in hours],
        "says": f"Bars over time until {clock(plan.finish_min)}: dwellings that no entrance reaches, at most {most}.",
    }


def _mark_min(finish_min: int) -> int:
    """Return a distance of time marks that gives at most twelve of them."""
    return next((step for step in (15, 30, 60, 120, 240, 480) if finish_min / step <= 12), 1440)
