"""Help: every rule, calculation, word, column and key, found by its words; the tour; the cautions."""

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any, Final

from starlette.exceptions import HTTPException

from doorwright.app.find_help import SITE_SHEET, Topic, TopicKind, find_help, known_topics
from doorwright.calc.catalogue import areas, calculation_by_id
from doorwright.kernel.calculation import Calculation
from doorwright.kernel.calculation_page import CalculationPage, page_of
from doorwright.kernel.errors import Refused
from doorwright.kernel.source import Cite, sources
from doorwright.kernel.units import unit_of
from doorwright.model.glossary import WORD_BY_KEY, WORDS
from doorwright.model.part import Part
from doorwright.model.profile_fields import MEANING_BY_FIELD
from doorwright.render.pdf.papers.cover import CAUTIONS
from doorwright.render.pdf.papers.findings import SEVERITY_WORDS
from doorwright.rules.catalogue import AREAS, RULE_BY_ID, RULES, rules_of, title_of
from doorwright.rules.rule import Rule
from doorwright.store.workbook.columns import SETTINGS, SHEETS, SITE_NOTE, SITE_SYNONYMS
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.keyboard import KEYBOARD
from doorwright.web.opened import OpenBook
from doorwright.web.showing import book_url, url
from doorwright.web.tour import STOPS

FOUND_MOST: Final = 60
_ON_ONE_PAGE: Final = frozenset({TopicKind.KEY, TopicKind.CAUTION, TopicKind.FIELD})


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """The book from which somebody came."""

    name: str
    site: str
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line that leads to a page of help; ``mark`` is the severity of a rule."""

    address: str
    title: str
    told: str
    kind: TopicKind
    mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Lines under one heading."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpView:
    """The first page of help, or what was found; ``near`` are words that would be found."""

    back: Back | None
    sought: str
    found: tuple[Line, ...]
    found_count: int
    near: tuple[Line, ...]
    parts: tuple[Line, ...]
    tour: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ListView:
    """A list of pages of help, in groups. ``said`` explains the words that stand in it."""

    back: Back | None
    said: tuple[tuple[str, str], ...]
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceView:
    """A source, where in it, and how it was known to those who wrote the figure down."""

    title: str
    place: str
    publisher: str
    held: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleView:
    """The page of a rule. ``found_count`` is what it finds in the book, None where no book is open or it is looking."""

    back: Back | None
    rule: str
    severity: str
    severity_told: str
    looks_at: str
    phases: tuple[str, ...]
    title: str
    why: str
    what_to_do: str
    finds: str
    lets_pass: str
    sources: tuple[SourceView, ...]
    found_count: int | None
    findings: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CalculationView:
    """The page of a calculation."""

    back: Back | None
    calculation: str
    title: str
    told: CalculationPage
    sources: tuple[SourceView, ...]
    studies: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of a table of help: its name, and its further cells. ``key`` is its anchor."""

    key: str
    name: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableView:
    """Tables of help: each with a title, headings and rows. ``said`` stands above them."""

    back: Back | None
    said: tuple[str, ...]
    tables: tuple[tuple[str, tuple[str, ...], tuple[Row, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionsView:
    """What to beware of."""

    back: Back | None
    cautions: tuple[tuple[str, str], ...]


def page(ask: Ask) -> Answer:
    """Show the parts of help, or what is known of the words asked for."""
    back, sought = _back(ask), ask.text("for")[:200]
    found = find_help(sought, _topics())
    view = HelpView(
        back=back,
        sought=sought,
        found=tuple(_line(topic, back) for topic in found.topics[:FOUND_MOST]),
        found_count=len(found.topics),
        near=tuple(
            Line(address=_url(back, **{"for": word}), title=word, told="", kind=TopicKind.WORD) for word in found.near
        ),
        parts=_parts(back),
        tour=tuple(_stop(back, index) for index in range(len(STOPS))),
    )
    return Page(template="help/help.html", title="Help", view=view)


def rules(ask: Ask) -> Answer:
    """List every rule by area."""
    back = _back(ask)
    groups = tuple(
        Group(
            title=title_of(area),
            lines=tuple(
                Line(
                    address=_url(back, "rules", one.id),
                    title=one.id,
                    told=one.title,
                    kind=TopicKind.RULE,
                    mark=one.severity.value,
                )
                for one in rules_of(area)
            ),
        )
        for area in AREAS
    )
    said = tuple((severity.value, text) for severity, text in SEVERITY_WORDS.items())
    return Page(template="help/list.html", title="Rules", view=ListView(back=back, said=said, groups=groups))


def rule(ask: Ask) -> Answer:
    """Show the page of a rule, and how often it finds something in the book."""
    one = RULE_BY_ID.get(ask.path["rule"])
    if one is None:
        raise HTTPException(404, f"there is no rule {ask.path['rule']!r}")
    back = _back(ask)
    view = RuleView(
        back=back,
        rule=one.id,
        severity=one.severity.value,
        severity_told=SEVERITY_WORDS[one.severity],
        looks_at=one.over.KIND if issubclass(one.over, Part) else "site",
        phases=tuple(phase.value for phase in one.phases),
        title=one.title,
        why=one.why,
        what_to_do=one.remedy,
        finds=_sentence(one.finds.text),
        lets_pass=_sentence(one.passes.text),
        sources=_sources(one.cites),
        found_count=_found_count(ask, one),
        findings=book_url(back.name, "check", rule=one.id) if back is not None else "",
    )
    return Page(template="help/rule.html", title=one.id, view=view)


def calculations(ask: Ask) -> Answer:
    """List every calculation by area."""
    back = _back(ask)
    groups = tuple(
        Group(title=area.title, lines=tuple(_calculation_line(back, one) for one in area.calculations))
        for area in areas()
    )
    return Page(template="help/list.html", title="Calculations", view=ListView(back=back, said=(), groups=groups))


def calculation(ask: Ask) -> Answer:
    """Show the page of a calculation."""
    one = calculation_by_id().get(ask.path["calculation"])
    if one is None:
        raise HTTPException(404, f"there is no calculation {ask.path['calculation']!r}")
    back = _back(ask)
    view = CalculationView(
        back=back,
        calculation=one.id,
        title=one.title,
        told=_told(one),
        sources=_sources(one.cites),
        studies=book_url(back.name, "studies") if back is not None else "",
    )
    return Page(template="help/calculation.html", title=one.title, view=view)


def words(ask: Ask) -> Answer:
    """Show the words of the trade."""
    rows = tuple(Row(key=one.key, name=one.written, cells=(one.meaning, one.whose)) for one in WORDS)
    view = TableView(back=_back(ask), said=(), tables=(("Words", ("word", "meaning", "whose word"), rows),))
    return Page(template="help/table.html", title="Words of the trade", view=view)


def word(ask: Ask) -> Answer:
    """Show one word: what it means, and what else is known of it."""
    one = WORD_BY_KEY.get(ask.path["word"])
    if one is None:
        raise HTTPException(404, f"there is no word {ask.path['word']!r}")
    back = _back(ask)
    found = find_help(one.short or one.word.partition(",")[0], known_topics()).topics
    lines = tuple(_line(topic, back) for topic in found if topic.key != one.key)[:FOUND_MOST]
    groups = (Group(title="Where it matters", lines=lines),) if lines else ()
    said = ((one.written, one.meaning), ("whose word", one.whose))
    return Page(template="help/list.html", title=one.written, view=ListView(back=back, said=said, groups=groups))


def sheets(ask: Ask) -> Answer:
    """List the sheets of a workbook."""
    back = _back(ask)
    told = ((SITE_SHEET, SITE_NOTE), *((sheet.name, sheet.note) for sheet in SHEETS))
    lines = tuple(
        Line(address=_url(back, "columns", name), title=name, told=note, kind=TopicKind.COLUMN) for name, note in told
    )
    view = ListView(back=back, said=(), groups=(Group(title="Sheets", lines=lines),))
    return Page(template="help/list.html", title="The workbook", view=view)


def sheet(ask: Ask) -> Answer:
    """Show the columns of one sheet."""
    name = ask.path["sheet"]
    headings: tuple[str, ...]
    also: tuple[str, ...]
    if name == SITE_SHEET:
        note, also = SITE_NOTE, SITE_SYNONYMS
        headings = ("setting", "what it is", "what belongs in it", "example", "also read as")
        rows = tuple(
            Row(
                key="",
                name=one.heading,
                cells=(
                    one.note,
                    one.form.wanted,
                    "" if one.example is None else str(one.example),
                    _listed(one.synonyms),
                ),
            )
            for one in SETTINGS
        )
    else:
        found = next((one for one in SHEETS if one.name == name), None)
        if found is None:
            raise HTTPException(404, f"a workbook has no sheet {name!r}")
        note, also = found.note, found.synonyms
        headings = ("column", "needed", "what it is", "what belongs in it", "example", "also read as")
        rows = tuple(
            Row(
                key="",
                name=one.heading,
                cells=(
                    "yes" if one.required else "",
                    one.note,
                    one.wanted,
                    one.told_example,
                    _listed(one.synonyms),
                ),
            )
            for one in found.columns
        )
    lines = (note, f"Also read under the names: {_listed(also)}.") if also else (note,)
    view = TableView(back=_back(ask), said=lines, tables=((name, headings, rows),))
    return Page(template="help/table.html", title=f"Sheet {name}", view=view)


def profile_fields(ask: Ask) -> Answer:
    """Show what each field of a profile means."""
    rows = tuple(
        Row(key=name, name=name, cells=(unit.symbol if (unit := unit_of(name)) is not None else "", meaning))
        for name, meaning in MEANING_BY_FIELD.items()
    )
    said = (
        "A profile is the data sheet of a unit type, in a TOML file. The generic ones that ship are invented: write "
        "your own from the data sheets of the units that you buy.",
        "A field that has no meaning for a kind is left out. Only title and kind are always needed.",
    )
    view = TableView(back=_back(ask), said=said, tables=(("Fields", ("field", "unit", "what it means"), rows),))
    return Page(template="help/table.html", title="Fields of a profile", view=view)


def keyboard(ask: Ask) -> Answer:
    """Show what each key does, by where it does it."""
    tables = tuple(
        (where, ("keys", "what they do"), tuple(Row(key="", name=keys, cells=(does,)) for keys, does in lines))
        for where, lines in KEYBOARD
    )
    view = TableView(back=_back(ask), said=("Everything can be done without a mouse.",), tables=tables)
    return Page(template="help/table.html", title="Keyboard", view=view)


def cautions(ask: Ask) -> Answer:
    """Show what to beware of."""
    view = CautionsView(back=_back(ask), cautions=CAUTIONS)
    return Page(template="help/cautions.html", title="Cautions", view=view)


def _book(ask: Ask) -> OpenBook | None:
    name = ask.text("book")
    if not name:
        return None
    try:
        return ask.shelf.open(name)
    except (LookupError, Refused):
        return None  # help is there without the book, too


def _back(ask: Ask) -> Back | None:
    book = _book(ask)
    if book is None:
        return None
    return Back(name=book.name, site=book.now()[1].site.name or book.name, address=book_url(book.name))


def _url(back: Back | None, *steps: str, **query: object) -> str:
    return url("help", *steps, **query, book=back.name if back is not None else None)


def _line(topic: Topic, back: Back | None) -> Line:
    if topic.kind in _ON_ONE_PAGE:
        address = _url(back, topic.kind.value) + (f"#{topic.key}" if topic.kind is TopicKind.FIELD else "")
    else:
        address = _url(back, topic.kind.value, topic.key)
    return Line(
        address=address,
        title=topic.title,
        told=topic.told,
        kind=topic.kind,
        mark=RULE_BY_ID[topic.key].severity.value if topic.kind is TopicKind.RULE else "",
    )


def _topics() -> tuple[Topic, ...]:
    keys = (
        Topic(kind=TopicKind.KEY, key=keys, title=f"{keys}: {where}", told=does, more="key keyboard")
        for where, lines in KEYBOARD
        for keys, does in lines
    )
    beware = (Topic(kind=TopicKind.CAUTION, key=name, title=name, told=text, more="caution") for name, text in CAUTIONS)
    return (*known_topics(), *keys, *beware)


def _parts(back: Back | None) -> tuple[Line, ...]:
    columns_count = len(SETTINGS) + sum(len(one.columns) for one in SHEETS)
    parts: tuple[tuple[TopicKind, str, str], ...] = (
        (TopicKind.RULE, "Rules", f"What each of {len(RULES)} rules finds, why it matters, what to do"),
        (TopicKind.CALCULATION, "Calculations", f"The formula and source of each of {len(calculation_by_id())}"),
        (TopicKind.WORD, "Words of the trade", "VCU, URU, registrar, pairing, and the others"),
        (TopicKind.COLUMN, "The workbook", f"What belongs in each of its {columns_count} columns and settings"),
        (
            TopicKind.FIELD,
            "Fields of a profile",
            f"What each of the {len(MEANING_BY_FIELD)} facts of a unit type means",
        ),
        (TopicKind.KEY, "Keyboard", "What each key does, in drawings, tables and forms"),
        (TopicKind.CAUTION, "Cautions", "Locks on escape routes, mains, work at height, personal data"),
    )
    return tuple(Line(address=_url(back, kind.value), title=name, told=told, kind=kind) for kind, name, told in parts)


def _stop(back: Back | None, index: int) -> Line:
    stop = STOPS[index]
    address = ""
    if back is not None:
        address = (book_url(back.name, stop.step) if stop.step else back.address) + "#tour"
    return Line(address=address, title=stop.name, told=stop.look, kind=TopicKind.WORD)


def _calculation_line(back: Back | None, one: Calculation) -> Line:
    return Line(
        address=_url(back, "calculations", one.id),
        title=one.title,
        told=_told(one).paragraphs[0].text,
        kind=TopicKind.CALCULATION,
    )


def _told(one: Calculation) -> CalculationPage:
    """Return the page of a calculation; its first sentence says what it gives, without the command to give it."""
    told = page_of(one)
    first, *rest = told.paragraphs
    return replace(told, paragraphs=(replace(first, text=_sentence(first.text.removeprefix("Return "))), *rest))


def _sources(cites: tuple[Cite, ...]) -> tuple[SourceView, ...]:
    known = sources()
    return tuple(
        SourceView(
            title=known[cite.source].title,
            place=cite.place,
            publisher=known[cite.source].publisher,
            held=cite.held.value,
        )
        for cite in cites
    )


def _found_count(ask: Ask, one: Rule) -> int | None:
    book = _book(ask)
    judged = book.judged() if book is not None else None
    return Counter(finding.rule for finding in judged.assessment.findings)[one.id] if judged is not None else None


def _listed(synonyms: tuple[str, ...]) -> str:
    return ", ".join(dict.fromkeys(synonyms))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


ROUTES: Final[tuple[Any, ...]] = (
    *get("/help", page),
    *get("/help/rules", rules),
    *get("/help/rules/{rule}", rule),
    *get("/help/calculations", calculations),
    *get("/help/calculations/{calculation}", calculation),
    *get("/help/words", words),
    *get("/help/words/{word}", word),
    *get("/help/columns", sheets),
    *get("/help/columns/{sheet}", sheet),
    *get("/help/profiles", profile_fields),
    *get("/help/keyboard", keyboard),
    *get("/help/cautions", cautions),
)
