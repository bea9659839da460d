"""Firmware: choose versions, see what the step clears and in which order it is done, note who has taken it."""

from dataclasses import dataclass
from typing import Any, Final

from doorwright.app.means import Means
from doorwright.app.plan_firmware import note_done, plan_firmware
from doorwright.app.tell_firmware import as_rows, verdict
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.kernel.words import counted
from doorwright.render.pdf.firmware import CAUTIONS, clock, figures, runs, silence_rows, type_rows
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.showing import book_url

_SECONDS_MOST: Final = 600
_TECHNICIANS_MOST: Final = 50
_ROWS_MOST: Final = 200
_LABELS: Final = {"technicians": "Technicians", "seconds": "Seconds of search", "to": "Versions"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeView:
    """A type of unit in use: which versions its profile knows, and how many units have which."""

    key: str
    title: str
    versions: tuple[str, ...]
    there: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareView:
    """The types whose firmware is known."""

    types: tuple[TypeView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """A planned step: the values that the command prints, and the same in words for the page."""

    plan: dict[str, Any]
    verdict: str
    types: list[dict[str, Any]]
    waves: tuple[tuple[str, str, str, str, str], ...]
    figures: list[dict[str, Any]]
    silences: list[dict[str, Any]]
    cautions: tuple[str, ...]
    paper: str


def page(ask: Ask) -> Answer:
    """Show the types and their versions."""
    _, walk = ask.book.now()
    types = []
    for profile in walk.settings().profiles:
        units = [unit for unit in walk.site.units if unit.profile == profile.key]
        if not profile.firmware or not units:
            continue
        there: dict[str, int] = {}
        for unit in units:
            there[unit.firmware or "not known"] = there.get(unit.firmware or "not known", 0) + 1
        versions = tuple(line.version for line in profile.firmware)
        types.append(TypeView(key=profile.key, title=profile.title, versions=versions, there=tuple(there.items())))
    return Page(template="firmware/firmware.html", title="Firmware", view=FirmwareView(types=tuple(types)))


def plan(ask: Ask) -> Answer:
    """Begin to plan a step."""
    prefix = "to:"
    targets = [f"{name.removeprefix(prefix)}={ask.text(name)}" for name in ask.fields if name.startswith(prefix)]
    targets = [target for target in targets if not target.endswith("=")]
    filled = Filled(ask, _LABELS)
    technicians = filled.whole("technicians", default=1, least=1, most=_TECHNICIANS_MOST)
    seconds = filled.whole("seconds", default=30, least=0, most=_SECONDS_MOST)
    if not targets:
        filled.wrong("to", "", "no version is wanted of any type", "Choose one beside at least one type.")
    filled.see("no step was planned")
    book, scratch, back = ask.book, ask.scratch, ask.chosen("back")

    def work(means: Means) -> Answer:
        made = scratch.new(book.name, book.now()[0].number, "Firmware plan")
        planned = plan_firmware(
            book.path,
            targets,
            means,
            technicians_count=technicians,
            effort=float(seconds),
            back=back,
            out=made.folder / "firmware-plan.pdf",
        )
        view = PlanView(
            plan=as_rows(planned),
            verdict=verdict(planned),
            types=type_rows(planned.steps.steps),
            waves=tuple(
                (
                    str(wave.number),
                    clock(wave.start_min),
                    clock(wave.end_min),
                    ", ".join(runs([turn.step.unit.name for turn in wave.turns])),
                    str(wave.unreached_most),
                )
                for wave in planned.plan.waves
            ),
            figures=figures(planned.plan),
            silences=silence_rows(planned.silences)[:_ROWS_MOST],
            cautions=CAUTIONS,
            paper=book_url(book.name, "papers", made.key, "firmware-plan.pdf"),
        )
        return Page(template="firmware/plan.html", title="Firmware plan", view=view, facts={"book": book.name})

    return Begun(ask.jobs.start("Planning the firmware step", book.name, work, ask.means))


def done(ask: Ask) -> Answer:
    """Note that units have a version now."""
    names = [line.strip() for line in ask.text("units").splitlines() if line.strip()]
    if not names or not ask.text("version"):
        raise Refused("units or version are missing", remedy="Name the units, one a line, and their version.")
    noted = note_done(ask.book.path, names, ask.text("version"), ask.means)
    ask.book.changed()
    said = f"Revision {noted.revision}: {counted(len(noted.units), 'unit')} noted with {noted.version}."
    return Go(book_url(ask.book.name, "firmware"), said)


ROUTES: Final = (
    *get("/books/{book}/firmware", page),
    *post("/books/{book}/firmware/plan", plan, needs=Role.WORK),
    *post("/books/{book}/firmware/done", done, needs=Role.PLAN),
)
