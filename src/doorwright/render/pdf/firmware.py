"""The paper of a firmware step: what to record first, the order of work in waves, who falls silent, the way back."""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from doorwright.kernel.words import counted
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
HOLDS_OTHERS: Final = (
    "What is paired with them must stay with them: put back alone, it would not talk to them any more."
)
_NUMBER: Final = re.compile(r"(.*?)(\d+)")
_RUN_COUNT: Final = 3
"""From how many names on a run is told by its ends."""
CAUTIONS: Final = (
    "Do not begin while a fact is missing from the record: a cleared unit cannot be asked any more.",
    "While a unit is down nobody can be called from it and it frees no door. Tell those who live there, and the desk. "
    "See to it that locks on escape routes open as the fire strategy and the local code ask, whatever the units do.",
    "Do not take the power or the network from a unit while it loads. Feed its switch from a supply that holds.",
    "A changed unit may need a newer program of its maker to be set up. Have it, and have tried it, before you begin.",
    "Step one unit of each type on the bench first, and try it in full: calls, speech, picture, release.",
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
        "silences": silence_rows(silences),
        "back": back_rows(ways_back),
        "without_return": return_rows(steps),
        "holds_others": HOLDS_OTHERS if holds_others(steps) else "",
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
                "way_back": _way_back_words(step),
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


def _way_back_words(step: Step) -> str:
    if step.back:
        return "this is it"
    if step.one_way_versions:
        return f"none from {', '.join(step.one_way_versions)}"
    return "ask the maker" if step.back_not_told else "there is one"


def return_rows(steps: Steps) -> list[dict[str, str]]:
    """Return the units that will have no way back, one row for each type and the versions that bar it."""
    every = Counter(step.unit.profile for step in steps.steps)
    barred: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for step in steps.without_return:
        barred.setdefault((step.unit.profile, step.one_way_versions), []).append(step.unit.name)
    return [
        {
            "type": profile,
            "from": ", ".join(versions),
            "units": f"all {len(names)} that step" if 1 < len(names) == every[profile] else ", ".join(runs(names)),
        }
        for (profile, versions), names in sorted(barred.items())
    ]


def holds_others(steps: Steps) -> bool:
    """Say whether what stays with the units without a way back must stay too, because the generation changes."""
    return any(step.crosses for step in steps.without_return)


def silence_rows(silences: Iterable[Silence]) -> list[dict[str, Any]]:
    """Return the pairs that stop talking, those with one unit together: who, with whom, for how long."""
    alike: dict[tuple[str, str, str, bool], list[Silence]] = {}
    for one in silences:
        alike.setdefault((one.other.id, one.other.name, one.what, one.for_good), []).append(one)
    return [
        {
            "unit": ", ".join(runs([one.unit.name for one in together])),
            "other": other,
            "what": what,
            "silent": _span([one.silent_min for one in together]),
            "apart": _span([one.apart_min for one in together]),
            "for_good": for_good,
        }
        for (_, other, what, for_good), together in alike.items()
    ]


def _span(minutes: Sequence[int]) -> str:
    low, high = clock(min(minutes)), clock(max(minutes))
    return low if low == high else f"{low} to {high}"


def runs(names: Sequence[str]) -> list[str]:
    """Return names in their order, three or more that count on by one as a run: "URU 101 to URU 109"."""
    found: list[list[str]] = []
    for name in names:
        if found and _counts_on(found[-1][-1], name):
            found[-1].append(name)
        else:
            found.append([name])
    return [
        text for run in found for text in ([f"{run[0]} to {run[-1]}"] if len(run) >= _RUN_COUNT else run)
    ]  # fmt: skip


def _counts_on(one: str, following: str) -> bool:
    ends = [_NUMBER.fullmatch(name) for name in (one, following)]
    if ends[0] is None or ends[1] is None:
        return False
    (here, low), (there, high) = ends[0].groups(), ends[1].groups()
    return here == there and len(low) <= len(high) and int(high) == int(low) + 1


def back_rows(ways_back: Iterable[tuple[Step, Step]]) -> list[dict[str, str]]:
    """Return what a return to the old version would do, one row for each type and version."""
    alike = Counter(
        (
            there.unit.profile, there.version_from, there.version_to,
            _back_words(there, step_back=step.back),
        )
        for step, there in ways_back
    )  # fmt: skip
    return [
        {
            "type": profile,
            "from": here,
            "to": there,
            "units": counted(count, "unit"),
            "what": what,
        }
        for (profile, here, there, what), count in alike.items()
    ]


def _back_words(there: Step, *, step_back: bool) -> str:
    """Return what the way back does; the way back from an older version is the step forward."""
    if there.one_way_versions and not step_back:
        return f"NO WAY BACK from {', '.join(there.one_way_versions)}"
    clearing = there.clearing_versions
    verb = "entering" if step_back else "leaving"
    what = f"cleared again, {verb} {', '.join(clearing)}" if clearing else "settings kept"
    if there.crosses:
        what += "; must go back together with what it is paired with"
    return f"{what}; the maker does not say whether it can: ask" if there.back_not_told and not step_back else what


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
        "units": runs([turn.step.unit.name for turn in wave.turns]),
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
