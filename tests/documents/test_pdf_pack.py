"""The papers as a reader finds them: opened again with a PDF library that had no part in making them."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import StreamObject

from doorwright.kernel.verdict import Finding, Missing, NotChecked, Severity, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.network import Switch
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.schedule import Pace, Times, make_schedule, work_of
from doorwright.render.pdf import Edition, pack_pdf, sealed_sheet_pdf
from doorwright.render.svg.canvas import Canvas
from doorwright.render.svg.sheet import Drawing
from doorwright.rules.judge import Assessment
from doorwright.studies.annex import all_studies
from tests.documents.sample_site import Sample, sample

POINT_MM = 25.4 / 72  # ISO 32000-1, 8.3.2.3: the default user space unit is 1/72 inch
EDITION = Edition(4, datetime(2026, 11, 25, 9, 30, tzinfo=UTC), "A. Example", "Addresses issued")
NOTHING_JUDGED = Assessment((), (), (), {})
WORST = Finding("lock-held", Severity.ERROR, (Subject("door", "d0"),), "Lobby door A gets 10.2 V where it needs 10.8 V")
ACCEPTED = Finding("few-ports", Severity.WARNING, (Subject("switch", "s1"),), "S1 has 4 % of its ports free")
WAIVER = Waiver(
    id="w",
    rule="few-ports",
    subjects=ACCEPTED.subjects,
    reason="No more homes can be built here.",
    by="B. Example",
    on=date(2026, 11, 1),
    until=date(2027, 11, 1),
)
UNJUDGED = NotChecked("too-long", (Subject("cable run", "r20"),), (Missing("cable run", "length"),))
JUDGED = Assessment((WORST,), ((ACCEPTED, WAIVER),), (UNJUDGED,), {"lock-held": 410})


def drawn(text: str = "Section") -> Drawing:
    canvas = Canvas()
    canvas.text(60, 60, text, room_mm=300, size_mm=8)
    svg = canvas.text_of(width_mm=420, height_mm=297, title="Section", description="A section.")
    return Drawing("section", "Section, sheet 1 of 1", svg, 420, 297)


def made(site: Site, assessment: Assessment = JUDGED) -> bytes:
    walk = Walk(site)
    studies = tuple(all_studies(walk))
    schedule = make_schedule(work_of(walk, times=Times(), pace=Pace()), technicians=2, effort_s=0.0)
    return pack_pdf(
        walk=walk, assessment=assessment, studies=studies, drawings=(drawn(),), edition=EDITION, schedule=schedule
    )


@cache
def plan() -> Sample:
    return sample(64)


@cache
def pack() -> bytes:
    return made(plan().site)


def read(pdf: bytes) -> PdfReader:
    return PdfReader(BytesIO(pdf), strict=True)


def text_of(pdf: bytes) -> str:
    """The text without the line breaks and break opportunities that setting it brought in."""
    text = " ".join(page.extract_text() for page in read(pdf).pages)
    return " ".join(text.replace("\u200b", "").split())


@cache
def pack_text() -> str:
    return text_of(pack())


def bookmarks(pdf: bytes) -> list[str]:
    def flat(items: Iterable[Any]) -> Iterator[str]:
        for item in items:
            if isinstance(item, list):
                yield from flat(item)
            else:
                yield str(item.title)

    return list(flat(read(pdf).outline))


@pytest.mark.parametrize("which", ["pack", "sealed"])
def test_is_tagged_and_says_its_title_and_language(which: str) -> None:
    # ISO 14289-1 (PDF/UA-1; from memory): 7.1 tagged, title shown; 7.2 language; 5 the identifier in the metadata.
    pdf = pack() if which == "pack" else sealed(plan())
    root: Any = read(pdf).root_object
    assert root["/MarkInfo"]["/Marked"]
    assert root["/StructTreeRoot"]["/K"]
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_object().get_data()
    metadata = read(pdf).metadata
    assert metadata is not None
    assert metadata.title == f"{'Site pack' if which == 'pack' else 'Sealed sheet'}: Larch Quay, phase 1"


def test_bookmarks_lead_through_the_papers_in_order() -> None:
    papers = [
        "How to read this pack",
        "Findings",
        "Drawings",
        "Run sheet",
        "Work by technician",
        "Unit cards",
        "Key legends",
        "Labels",
        "Schedules",
        "Bill of materials",
        "As-built and test forms",
        "Workings",
        "Sources",
    ]
    marks = [mark.lstrip("0123456789 ") for mark in bookmarks(pack())]
    assert [mark for mark in marks if mark in papers] == papers


def test_every_page_but_the_cover_has_its_number() -> None:
    pages = read(pack()).pages
    for number, page in enumerate(pages[1:], start=2):
        assert f"{number} / {len(pages)}" in " ".join(page.extract_text().split())


def test_no_page_is_empty() -> None:
    # A page that says nothing still has its running head, its foot and its number: less than 100 signs together.
    papers = [page for page in read(pack()).pages if page.mediabox.width < page.mediabox.height]
    assert [page.page_number for page in papers if len(page.extract_text()) < 130] == []


def test_pages_are_a4_and_the_drawing_is_a3_landscape() -> None:
    # ISO 216: A4 is 210 × 297 mm, A3 297 × 420 mm.
    sizes = [(float(page.mediabox.width), float(page.mediabox.height)) for page in read(pack()).pages]
    in_mm = [(round(wide * POINT_MM), round(high * POINT_MM)) for wide, high in sizes]
    assert in_mm.count((420, 297)) == 1
    assert set(in_mm) == {(210, 297), (420, 297)}
    assert all("/UserUnit" not in page for page in read(pack()).pages)


def test_every_dwelling_unit_switch_and_address_is_there() -> None:
    site, text = plan().site, pack_text()
    wanted = [dwelling.door_label for dwelling in site.table(Dwelling)]
    wanted += [dwelling.call_number for dwelling in site.table(Dwelling)]
    for part in (*site.table(Unit), *site.table(Switch)):
        wanted += [part.name, part.address, part.serial, part.mac]
    wanted += [run.name for run in site.runs]
    missing = {one for one in wanted if one is not None and one not in text}
    assert not missing


def test_says_what_failed_what_was_accepted_and_what_was_not_checked() -> None:
    # By hand: 410 judgements hold, one fails and one is accepted: 412 were made.
    assert "Checked 412, failed 1, accepted in writing 1, could not check 1." in pack_text()
    for said in (
        WORST.message,
        ACCEPTED.message,
        WAIVER.reason,
        WAIVER.by,
        "2027-11-01",
        "length of cable run",
        "ERROR",
    ):
        assert said in pack_text()


def test_cards_name_the_line_of_a_secret_and_never_the_secret() -> None:
    whole = pack_text().replace(" ", "")
    secrets = plan().secrets
    assert len(secrets) > 100
    assert not [secret for secret in secrets.values() if secret in whole]
    uru = next(unit for unit in plan().site.units if unit.kind is UnitKind.URU)
    mark = next(mark for mark in plan().site.table(SecretMark) if mark.owner == uru.id)
    assert f"sealed sheet, line {mark.line}" in pack_text()


def test_the_secret_is_not_in_the_file_in_any_other_way() -> None:
    reader = read(pack())
    objects: list[Any] = [reader.get_object(number) for number in range(1, len(reader.xref[0]) + 1)]
    streams = [one.get_data() for one in objects if isinstance(one, StreamObject)]
    whole = b"\n".join((pack(), *streams))
    assert len(streams) > len(reader.pages)
    assert not [one for one in plan().secrets.values() if one.encode() in whole]


def sealed(of: Sample, **secrets: str) -> bytes:
    return sealed_sheet_pdf(walk=Walk(of.site), secrets={**of.secrets, **secrets}, edition=EDITION)


def test_the_sealed_sheet_holds_every_secret_with_its_line() -> None:
    text = text_of(sealed(plan()))
    for mark in plan().site.table(SecretMark):
        assert f"{mark.use.value} {plan().secrets[mark.id]}" in text
    assert "seal it in an envelope" in text


def test_the_sealed_sheet_says_what_it_lacks_and_what_it_cannot_print() -> None:
    of = sample(1)
    marks = of.site.table(SecretMark)
    lacking = replace(of, secrets={marks[0].id: "abc漢def", marks[1].id: "two words"})
    text = text_of(sealed(lacking))
    assert "holds characters that no font here can print" in text
    assert "two␣words" in text
    assert text.count("not in the vault that was opened") == len(marks) - 2


def test_equal_input_gives_equal_bytes() -> None:
    site = sample(8).site
    assert made(site) == made(site)
    later = replace(EDITION, revision=5)
    walk = Walk(site)
    assert made(site) != pack_pdf(walk=walk, assessment=JUDGED, studies=(), drawings=(), edition=later)


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        Edition(1, datetime(2026, 11, 25), "A", "")  # noqa: DTZ001  (that is what is refused)


def test_an_empty_site_still_gives_a_pack() -> None:
    empty = Walk(Site(name=""))
    pdf = pack_pdf(walk=empty, assessment=NOTHING_JUDGED, studies=(), drawings=(), edition=EDITION)
    text = text_of(pdf)
    assert len(read(pdf).pages) == 3  # cover, how to read, findings
    assert "Site without a name" in text
    assert "Checked 0, failed 0, could not check 0." in text
    assert "No secret has been issued" in text_of(sealed_sheet_pdf(walk=empty, secrets={}, edition=EDITION))


def test_the_sections_are_listed_with_the_page_on_which_they_begin() -> None:
    reader = read(pack())
    pages = [" ".join(page.extract_text().replace("\u200b", "").split()) for page in reader.pages]
    listed = next(text for text in pages if "Sections and their pages" in text and "Findings" in text)
    cards = [number for number, text in enumerate(pages, start=1) if text.startswith("Unit cards")]
    assert f"Entrances {cards[0]}" in listed
    # the sample has four homes on a level: each level is a section of the cards, and the head of its pages says so
    level = next(number for number in cards if "A, level 3" in pages[number - 1])
    assert f"A, level 3 {level}" in listed
    assert any(pages[number - 1].startswith("Unit cards Core A, level") for number in cards)


def test_one_dwelling_is_enough() -> None:
    assert "AG01" in text_of(made(sample(1).site))
