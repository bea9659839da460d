"""The workings: for each question that was calculated the worst case in full, and every case in a line.

Cases whose figures are the same share a line, so that 64 equal units are one line with 64 names.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, is_dataclass
from itertools import groupby
from math import inf
from typing import Any, Final

from doorwright.kernel.calculation import Working
from doorwright.kernel.units import unit_of
from doorwright.model.aspect import SITE_SUBJECT
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of_subject
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.render.pdf.papers.figures import line, quantity
from doorwright.render.pdf.papers.paper import Paper
from doorwright.studies.contact_load import ContactLoad
from doorwright.studies.desk_queue import DeskQueue
from doorwright.studies.entrance_traffic import EntranceTraffic
from doorwright.studies.fuse_load import FuseLoad
from doorwright.studies.link_length import LinkLength
from doorwright.studies.link_streams import LinkStreams
from doorwright.studies.lock_voltage import LockVoltage
from doorwright.studies.poe_at_unit import PoeAtUnit
from doorwright.studies.registrar_calls import RegistrarCalls
from doorwright.studies.secret_strength import SecretStrength
from doorwright.studies.speech_path import SpeechPath
from doorwright.studies.standby import Standby
from doorwright.studies.study import Study
from doorwright.studies.subnet_room import SubnetRoom
from doorwright.studies.supply_load import SupplyLoad
from doorwright.studies.supply_network import SupplyNetwork
from doorwright.studies.switch_power import SwitchPower


@dataclass(frozen=True, slots=True)
class Answer:
    """How the answers of one kind are printed: the columns of a case, and how far it is from the limit."""

    columns: tuple[str, ...]
    margin: Callable[[Any], float]


_ANSWERS: Final[dict[type, Answer]] = {
    PoeAtUnit: Answer(
        ("poe_class", "length_m", "loop_ohm", "draw_w", "available_w", "device_v", "enough"),
        lambda value: value.available_w - value.draw_w,
    ),
    LinkLength: Answer(
        ("length_m", "temperature_c", "screened", "limit_m", "within"), lambda value: value.limit_m - value.length_m
    ),
    SwitchPower: Answer(
        ("fed_count", "lldp_count", "allocated_w", "needed_w", "drawn_w", "budget_w", "ports_used_count",
         "ports_count"),
        lambda value: min(value.power_spare_ratio, value.ports_spare_ratio),
    ),
    LockVoltage: Answer(
        ("length_m", "runs_count", "loop_ohm", "lock_a", "supply_v", "lock_v", "minimum_v", "enough"),
        lambda value: value.lock_v - value.minimum_v,
    ),
    SupplyLoad: Answer(
        ("locks_count", "others_count", "load_a", "standing_a", "starting_a", "output_v", "output_a"),
        lambda value: value.spare_ratio,
    ),
    SupplyNetwork: Answer(
        ("branches_count", "loads_count", "standing_a", "operated_a", "peak_a", "output_v", "spare_v", "end_v",
         "end_spare_v"),
        lambda value: value.spare_v if value.end_spare_v is None else value.end_spare_v,
    ),
    Standby: Answer(
        ("standing_a", "busy_a", "standby_h", "busy_h", "margin_ratio", "cold_ratio", "required_ah", "battery_ah",
         "runtime_h"),
        lambda value: value.spare_ratio,
    ),
    FuseLoad: Answer(
        ("fuse_a", "standing_a", "operated_a", "peak_a", "at_supply"), lambda value: value.fuse_a - value.operated_a
    ),
    ContactLoad: Answer(
        ("open_v", "rated_v", "carried_a", "rated_a", "closing_a", "rated_closing_a", "inrush_named"),
        lambda value: value.rated_closing_a - value.closing_a,
    ),
    SubnetRoom: Answer(("hosts_count", "usable_count", "holders_count", "free_count"), lambda value: value.free_count),
    EntranceTraffic: Answer(
        ("dwellings_count", "assumed_calls_count", "assumed_hold_s", "offered_erl", "lines_count", "taken_ratio",
         "taken_in_line_ratio", "goal_ratio", "needed_count"),
        lambda value: value.goal_ratio - value.taken_ratio,
    ),
    DeskQueue: Answer(
        ("assumed_calls_count", "assumed_talk_s", "assumed_patience_s", "offered_erl", "positions_count",
         "in_time_ratio", "left_ratio", "mean_wait_s", "goal_ratio", "needed_count"),
        lambda value: value.in_time_ratio - value.goal_ratio,
    ),
    RegistrarCalls: Answer(
        ("dwellings_count", "assumed_calls_count", "assumed_hold_s", "offered_erl", "callers_count", "held_count",
         "refused_ratio"),
        lambda value: -value.refused_ratio,
    ),
    LinkStreams: Answer(
        ("link_mbps", "down_calls_count", "up_calls_count", "down_kbps", "up_kbps", "use_ratio", "assumed_limit_ratio"),
        lambda value: value.assumed_limit_ratio - value.use_ratio,
    ),
    SpeechPath: Answer(
        ("codec", "links_count", "delay_ms", "assumed_loss_ratio", "assumed_burst_ratio", "rated", "opinion_points"),
        lambda value: value.rating_points if value.rating_points is not None else inf,
    ),
    SecretStrength: Answer(
        ("alphabet_count", "shortest_count", "shortest_bit", "longest_count", "longest_bit"),
        lambda value: value.shortest_bit,
    ),
}  # fmt: skip


def workings(walk: Walk, studies: Sequence[Study[Any]]) -> Paper | None:
    """Return the annex of workings, or None where nothing was calculated."""
    if not studies:
        return None
    by_title = sorted(studies, key=lambda study: study.title)
    return {
        "kind": "workings",
        "title": "Workings",
        "purpose": "every calculation with its inputs, formula, result and source",
        "sections": [
            _section(walk, title, list(group)) for title, group in groupby(by_title, key=lambda study: study.title)
        ],
    }


def _section(walk: Walk, title: str, studies: list[Study[Any]]) -> dict[str, Any]:
    answered = [study for study in studies if study.value is not None]
    section: dict[str, Any] = {
        "title": title,
        "count": f"{len(answered)} of {len(studies)} calculated",
        "worst": None,
        "columns": [],
        "cases": [],
        "waiting": _waiting(walk, [study for study in studies if study.value is None]),
    }
    if answered:
        answer = answer_of(answered[0].value)
        answered.sort(key=lambda study: answer.margin(study.value))
        section["worst"] = {
            "subject": subject_of(walk, answered[0]),
            "steps": steps_of(answered[0].workings),
        }
        section["columns"] = [heading(column) for column in answer.columns]
        section["cases"] = _cases(walk, answer, answered)
    return section


def answer_of(value: Any) -> Answer:
    """Return how the answers of a value's kind are printed."""
    known = _ANSWERS.get(type(value))
    if known is not None:
        return known
    names = [field.name for field in fields(value)] if is_dataclass(value) else []
    return Answer(tuple(name for name in names if unit_of(name)), lambda _: 0.0)


def heading(column: str) -> dict[str, str]:
    """Return the words of a column and its unit."""
    unit = unit_of(column)
    words, _ = quantity(column, "")
    return {"words": words, "unit": unit.symbol if unit is not None else ""}


def _cases(walk: Walk, answer: Answer, studies: list[Study[Any]]) -> list[dict[str, Any]]:
    names: dict[tuple[str, ...], list[str]] = {}
    for study in studies:
        row = tuple(cell(column, getattr(study.value, column)) for column in answer.columns)
        names.setdefault(row, []).append(subject_of(walk, study))
    return [{"cells": list(row), "names": _listed(subjects)} for row, subjects in names.items()]


def cell(column: str, value: object) -> str:
    """Return what stands in a cell: the value without the unit, which the heading says."""
    unit = unit_of(column)
    printed = quantity(column, value)[1]
    return printed.removesuffix(f" {unit.symbol}") if unit is not None and unit.symbol else printed


def steps_of(made: Iterable[Working]) -> list[dict[str, Any]]:
    """Return the steps of a case; a calculation made twice in a row is explained once."""
    return [
        {
            "id": known.id,
            "title": known.title,
            "formula": _said(known.text, "Formula:"),
            "valid": _said(known.text, "Valid when:"),
            "runs": [{"inputs": line(working.inputs), "result": line(working.results)} for working in group],
            "sources": "; ".join(f"{cite} ({cite.held})" for cite in known.cites),
        }
        for known, group in groupby(made, key=lambda working: working.calculation)
    ]


def _said(text: str, word: str) -> str:
    """Return what a docstring says after a word, up to the next empty line, without the marks of code."""
    _, _, rest = text.partition(word)
    return " ".join(rest.split("\n\n")[0].split()).replace("`", "")


def _waiting(walk: Walk, studies: Iterable[Study[Any]]) -> list[dict[str, str]]:
    waiting: dict[str, list[str]] = {}
    for study in studies:
        missing = ", ".join(str(one) for one in study.missing)
        waiting.setdefault(missing, []).append(subject_of(walk, study))
    return [{"missing": missing, "names": _listed(names)} for missing, names in waiting.items()]


def subject_of(walk: Walk, study: Study[Any]) -> str:
    """Return what people call that which a study is of."""
    known = study.subject.kind in PART_BY_KIND or study.subject == SITE_SUBJECT
    return name_of_subject(walk, study.subject) if known else f"{study.subject.kind} {study.subject.id}"


def _listed(names: list[str]) -> str:
    listed = sorted(dict.fromkeys(names), key=natural_key)
    count = f"{len(listed)}: " if len(listed) > 3 else ""
    return count + ", ".join(listed)
