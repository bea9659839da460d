"""The week strips: every entrance and group drawn, inside the frame, legible, and readable without colour."""

import re
from dataclasses import replace

from doorwright.model.calling import HOLIDAY, Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.render.pdf.papers.weeks import weeks
from doorwright.render.svg import sheet
from doorwright.render.svg.canvas import TEXT_MIN_MM
from doorwright.render.svg.sheet import Drawing
from doorwright.render.svg.week import week_strips
from doorwright.rules.sound import sound_site
from tests.documents import svg_reading as reading


def busy() -> Site:
    """The sound site with call hours at the rear, and a desk by night at the gate for one dwelling."""
    site = sound_site()
    hours = Timetable(
        id="hours", name="Calls", entrance="entrance-rear", purpose=TimetablePurpose.CALL,
        windows=(
            Window(days=(0, 1, 2, 3, 4), start_min=420, end_min=1320),
            Window(days=(HOLIDAY,), start_min=600, end_min=660),
        ),
    )  # fmt: skip
    night = replace(hours, id="night", name="Night <& بوابة>", entrance="nowhere")
    lost = Divert(id="x", cause=DivertCause.ALWAYS, dwelling="flat-4", entrance="entrance-gate", to_desk="gone")
    sent = Divert(id="y", cause=DivertCause.ALWAYS, dwelling="flat-2", timetable="night", to_dwelling="flat-3")
    return replace(
        site, timetables=(*site.timetables, hours, night), diverts=(*site.diverts, lost, sent)
    )  # fmt: skip


def drawn(site: Site) -> tuple[Drawing, ...]:
    walk = Walk(site)
    return week_strips(walk, prove(walk), revision="R7", on="2031-03-14")


def test_every_entrance_is_drawn_once_for_each_group() -> None:
    site = busy()
    proof = prove(Walk(site))
    expected = {ident: len(at.groups) + len(at.desks) for ident, at in proof.entrances.items()}
    assert [len(at.desks) for at in proof.entrances.values()] == [0, 1, 0]  # gate, main entrance, rear
    assert dict(reading.parts(drawn(site))) == expected


def test_the_strips_say_who_rings_who_may_free_and_when_nobody_does() -> None:
    words = reading.words_of(drawn(busy()), "entrance-rear")
    for said in ("Silent.", "May free: the dwelling called: Rear door", "Trade release frees Rear door", "Hol"):
        assert said in words
    gate = reading.all_words(drawn(busy()))
    assert "Sent to nobody." in gate
    assert "Desk rings for 30 s" in gate
    assert "dwelling 201 rings" in gate.casefold()


def test_days_are_rows_unless_all_are_alike() -> None:
    rear = [line.text for drawing in drawn(busy()) for line in reading.letterings(drawing)]
    for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"):
        assert day in rear
    assert "every day" in rear
    plain = [
        line.text
        for drawing in drawn(replace(busy(), timetables=(), diverts=()))
        for line in reading.letterings(drawing)
    ]
    assert plain.count("every day") == 4  # a strip an entrance, and one for the desk's key at the main entrance
    assert "Mon" not in plain


def test_each_meaning_has_a_pattern_or_tone_of_its_own() -> None:
    """Without colour: silent is a dark tone, the desk a zigzag, another dwelling two lines, nobody two zigzags."""
    (gate, *_) = drawn(busy())
    root = reading.root_of(gate)
    zigzags = [e for e in root.iter() if e.tag.endswith("polyline") and len(e.attrib["points"].split()) > 4]
    assert len(zigzags) > 5
    tones = {e.attrib["fill"] for d in drawn(busy()) for e in reading.root_of(d).iter() if e.tag.endswith("rect")}

    def lightness(colour: str) -> float:
        return sum(int(colour[i : i + 2], 16) for i in (1, 3, 5)) / 3

    dark = [tone for tone in tones if re.fullmatch("#[0-9a-f]{6}", tone) and lightness(tone) < 160]
    assert len(dark) == 1


def test_everything_stands_inside_the_frame_and_is_large_enough_to_read() -> None:
    site = busy()
    many = tuple(
        Entrance(id=f"e{n}", name=f"Entrance {n} " + "with a long name " * 6, serves_buildings=("building-1",))
        for n in range(40)
    )
    for one in (site, replace(site, entrances=(*site.entrances, *many))):
        drawings = drawn(one)
        assert [d.name for d in drawings] == sorted(d.name for d in drawings)
        for drawing in drawings:
            for line in reading.letterings(drawing):
                assert line.size_mm >= TEXT_MIN_MM - 1e-6
                assert sheet.FRAME.holds(line.box, slack_mm=0.6), line
            assert all(sheet.FRAME.holds(box, slack_mm=0.1) for box in reading.shapes(drawing))


def test_a_site_without_entrances_has_no_strips_and_no_paper() -> None:
    empty = Site(name="Empty")
    assert drawn(empty) == ()
    assert weeks(Walk(empty), prove(Walk(empty))) is None


def test_the_paper_tells_each_group_and_its_hours() -> None:
    walk = Walk(busy())
    paper = weeks(walk, prove(walk))
    assert paper is not None
    main = next(one for one in paper["entrances"] if one["name"] == "Main entrance")
    rows = {row["call"]: row["when"] for calls in main["calls"] for row in calls["rows"] if "202" in calls["who"]}
    # the desk's hours of the sound site: Mon-Fri 08:00-18:00
    assert rows["Desk rings for 30 s"] == "Mon-Fri 08:00-18:00"
    assert main["silent"] == ""


def test_more_behaviours_than_a_sheet_holds_are_told_elsewhere() -> None:
    site = sound_site()
    times = tuple(
        Timetable(
            id=f"t{n}", name=f"T{n}", entrance="nowhere", purpose=TimetablePurpose.CALL,
            windows=(Window(days=(0,), start_min=20 * n, end_min=20 * n + 10),),
        )
        for n in range(70)
    )  # fmt: skip
    homes = tuple(replace(site.dwellings[0], id=f"h{n}", door_label=f"H{n}") for n in range(70))
    sent = tuple(
        Divert(
            id=f"d{n}", cause=DivertCause.ALWAYS, dwelling="flat-2", entrance="entrance-rear", timetable=f"t{n}",
            to_dwelling=f"h{n}",
        )
        for n in range(70)
    )  # fmt: skip
    drawings = drawn(
        replace(site, dwellings=(*site.dwellings, *homes), timetables=(*site.timetables, *times), diverts=sent)
    )
    assert 'see the paper "Who rings when"' in reading.all_words(drawings)
    for drawing in drawings:
        assert all(sheet.FRAME.holds(line.box, slack_mm=0.6) for line in reading.letterings(drawing))


def test_the_paper_tells_the_desks_key_and_silence_once() -> None:
    walk = Walk(busy())
    paper = weeks(walk, prove(walk))
    assert paper is not None
    desk = [calls["who"] for one in paper["entrances"] for calls in one["calls"] if "desk" in calls["who"].casefold()]
    assert desk == ["The desk Desk, by its key or number"]
    rear = next(one for one in paper["entrances"] if one["name"] == "Rear entrance")
    assert rear["silent"]
    assert all(row["call"] != "silent" for calls in rear["calls"] for row in calls["rows"])
