"""Sources and cites."""

import pytest

from doorwright.kernel.source import Cite, Held, sources


def test_a_cite_prints_title_and_place() -> None:
    cite = Cite("iec60228", "Tables 1 to 3")
    assert str(cite) == f"{sources()['iec60228'].title}, Tables 1 to 3"
    assert str(Cite("iec60228")) == sources()["iec60228"].title


def test_a_cite_of_an_unknown_source_is_refused_at_once() -> None:
    with pytest.raises(LookupError, match="no source 'iec-nowhere'"):
        Cite("iec-nowhere", "clause 1")


def test_common_practice_says_that_it_is() -> None:
    assert Cite("practice").held is Held.COMMON_PRACTICE
    assert "no published source" in Held.COMMON_PRACTICE


def test_every_source_is_complete() -> None:
    for key, source in sources().items():
        assert source.key == key
        assert source.title.strip()
        assert source.publisher.strip()
        assert source.held in Held


def test_sources_cannot_be_altered() -> None:
    with pytest.raises(TypeError):
        sources()["iec60228"] = sources()["practice"]  # type: ignore[index]
