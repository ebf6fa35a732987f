"""The door to WeasyPrint: what no font here has is said, and nothing goes out half drawn."""

from __future__ import annotations

import pytest
from django.template import engines

from shop.papers import paper


@pytest.fixture
def sheet(monkeypatch):
    """Sets a page with these words."""

    def set_words(words: str) -> bytes:
        html = f'<html lang="en"><head><title>Paper</title></head><body style="font-family: Lato"><p>{words}</p></body>'
        made = engines["django"].from_string(html).render()
        monkeypatch.setattr(paper, "render_to_string", lambda template, context: made)
        return paper.render("a page", {})

    return set_words


@pytest.mark.parametrize("words", ["Łódka", "Ελένη", "Юлия", "5′6″ × 20 ¾″ – “quoted” €"])
def test_letters_of_europe_are_set(sheet, words):
    assert sheet(words).startswith(b"%PDF")


def test_a_picture_letter_without_a_font_is_written_out(sheet, monkeypatch):
    heard = []
    setting = paper._set
    monkeypatch.setattr(paper, "_set", lambda html, tagged: (heard.append(html), setting(html, tagged))[1])
    assert sheet("fish 🏄🏽‍♀️").startswith(b"%PDF")
    assert "fish [surfer]" in heard[-1] or len(heard) == 1  # a machine with such a font sets it as it is


def test_letters_without_a_font_are_named_in_a_sentence_and_the_paper_is_made(sheet):
    missing = "\U00012000"  # cuneiform: no font that a shop would have
    with paper.hears() as told:
        assert sheet(f"Name {missing}").startswith(b"%PDF")
    assert [missing in sentence for sentence in told] == [True]


def test_a_picture_from_elsewhere_is_an_error(sheet):
    with pytest.raises(BaseException, match="Error fetching"):  # WeasyPrint's own is no Exception
        sheet('<img src="file:///etc/hostname" alt="">')
