"""Names as people write them: signs that are markup elsewhere, other scripts, pictures, names without end."""

import unicodedata
from dataclasses import replace

import pytest

from doorwright.model.site import Site
from doorwright.render.fonts import coverage, printable
from tests.documents.sample_site import sample
from tests.documents.test_pdf_pack import made, read, sealed, text_of

MARKUP = '#panic("x") $x^2$ *b* _u_ [a](b) \\ "q" \'s\' `raw` <label> @ref // c /* d */ ~ #{1+1}'
HEBREW = "שער ראשי"
ARABIC = "المدخل الرئيسي"
LONG = "W" * 120


def named(name: str) -> Site:
    """A small site in which everything that has a name bears this one."""
    site = sample(4, name=name).site
    return replace(
        site,
        dwellings=tuple(replace(one, door_label=f"{name} {i}", legend=name) for i, one in enumerate(site.dwellings)),
        units=tuple(replace(one, name=f"{name} {i}") for i, one in enumerate(site.units)),
        doors=tuple(replace(one, name=name) for one in site.doors),
        entrances=tuple(replace(one, name=name) for one in site.entrances),
        switches=tuple(replace(one, name=name) for one in site.switches),
        cores=tuple(replace(one, name=name) for one in site.cores),
        levels=tuple(replace(one, name=name) for one in site.levels),
        places=tuple(replace(one, name=name) for one in site.places),
        runs=tuple(replace(one, name=name) for one in site.runs),
        subnets=tuple(replace(one, name=name) for one in site.subnets),
    )


def test_markup_comes_out_as_it_was_written() -> None:
    text = text_of(made(named(MARKUP))).replace(" ", "")
    assert text.count(MARKUP.replace(" ", "")) > 10


@pytest.mark.parametrize("name", [HEBREW, ARABIC])
def test_other_scripts_keep_their_letters(name: str) -> None:
    # Extraction may give presentation forms and either order; the letters are what counts (UAX #15, NFKC).
    text = unicodedata.normalize("NFKC", text_of(made(named(name))))
    assert set(name) - {" "} <= set(text)
    assert "\ufffd" not in text.replace("\ufffd A character that the fonts", "")


@pytest.mark.parametrize(
    "name", [LONG, "😀 👨‍👩‍👧 ❤️", "漢字", "e\u0301 x\u202ey\x07\tz\n", "\ud800", "א\u0301 😀\u0301", "\U0001f3fb\ufe0f"]
)
def test_any_name_can_be_set(name: str) -> None:
    # The compiler refuses a character that no font holds (PDF/UA-1): that it does not is the test.
    assert len(read(made(named(name))).pages) > 10


def test_a_long_name_keeps_all_its_letters_on_the_paper() -> None:
    for page in read(made(named(LONG))).pages[:1]:
        assert page.extract_text().replace("\u200b", "").count("W") >= len(LONG)


def test_what_no_font_holds_is_shown_as_such() -> None:
    assert printable("a漢b") == "a\ufffdb"
    assert printable("a\x07b") == "a\ufffdb"
    assert printable("a\tb\u202ec") == "a bc"
    assert printable("אבג العربية Größe Ω ☑") == "אבג العربية Größe Ω ☑"
    assert printable("کتاب\u200cخانه") == "کتاب\u200cخانه"  # the joiner between Arabic letters carries meaning


def test_the_fonts_hold_what_their_names_promise() -> None:
    sans, hebrew, arabic, dejavu, symbols = coverage()
    assert {ord(char) for char in "AZaz09äßñ€—…"} <= sans
    assert ord("א") in hebrew
    assert ord("ع") in arabic
    assert {ord("■"), ord("▲"), ord("○"), ord("␣")} <= dejavu | symbols
    assert ord("漢") not in sans | hebrew | arabic | dejavu | symbols


def test_signs_in_a_secret_come_out_as_they_are() -> None:
    of = sample(1)
    mark = of.site.secrets[0]
    typed = '#a*_$[]\\"<@`~//x'
    assert typed in text_of(sealed(of, **{mark.id: typed})).replace(" ", "")
