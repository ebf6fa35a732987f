"""Names in any script: nothing unseen is kept, no figure is turned round, no paper is refused for want of a font."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from quotes.papers import slip
from quotes.quoting import take_in
from shop.forms.words import WordsField
from shop.models import Customer, Profile
from shop.papers import paper
from shop.papers.paper import hears
from shop.platform.acts import Signed
from shop.text.writing import isolated, seen
from tests.conftest import NOW
from tests.quotes import seed

SARA = "\u05e9\u05e8\u05d4 \u05dc\u05d5\u05d9"  # a made-up name in Hebrew letters
TARO = "\u5c71\u7530 \u592a\u90ce"  # the usual made-up name of Japanese forms
CUNEIFORM = "\U00012000\U00012001"  # no font that a shop would have


@pytest.mark.parametrize(
    ("pasted", "kept"),
    [
        ("  Ana\u2028Lima ", "Ana Lima"),
        ("Ana\x07 Lima\x00", "Ana Lima"),
        ("\u202eamiL anA\u202c", "amiL anA"),
        ("Ana\tLima", "Ana Lima"),
        ("\u0646\u200c\u06cc", "\u0646\u200c\u06cc"),  # the joiner that Persian is spelled with stays
    ],
)
def test_what_is_pasted_along_unseen_is_left_out_of_a_name(pasted, kept):
    assert WordsField(label="Name", most=80).clean(pasted) == kept


def test_lines_stay_where_there_are_lines():
    assert seen("2 Slip Lane\r\nPort\u2028marram\x0b", lines=True) == "2 Slip Lane\r\nPort\nmarram "


def test_a_run_from_right_to_left_stands_apart_and_the_rest_is_as_it_was():
    assert isolated("<p>Ana, 12.00</p>") == "<p>Ana, 12.00</p>"
    assert isolated(f"<p>{SARA}, 12.00 of 31</p>") == f"<p><bdi>{SARA}</bdi>, 12.00 of 31</p>"
    assert isolated(f'<input value="{SARA}">') == f'<input value="{SARA}">'
    for tag in ("title", "option", "textarea", "script"):
        assert isolated(f"<{tag}>{SARA} 1</{tag}><b>{SARA}</b>") == f"<{tag}>{SARA} 1</{tag}><b><bdi>{SARA}</bdi></b>"


def board_of(name: str, by):
    return take_in(
        brought_by=Customer.objects.create(name=name, phone="020 910 0199"), board=seed.fish(),
        damages=[seed.rail_ding()], checks=seed.checked(), signed=Signed(by, NOW),
    )  # fmt: skip


def test_every_page_keeps_such_a_name_apart(profile, counter, counter_client):
    takein = board_of(SARA, counter)
    for page in ("takein", "customer"):
        key = takein.pk if page == "takein" else takein.brought_by.pk
        assert f"<bdi>{SARA}</bdi>" in counter_client.get(reverse(page, args=[key])).content.decode()


@pytest.mark.parametrize("name", [TARO, f"Ana {CUNEIFORM}", "Ana\u2028Lima", "Ana\x07 Lima", SARA])
def test_a_slip_is_never_refused_for_the_letters_of_a_name(profile, counter, counter_client, run, name):
    """Letters without a font are boxes on the paper; the tag and the day stand there whatever the name."""
    takein = board_of(name, counter)
    text = run(slip.pdf(takein, profile=Profile.objects.get()), "pdftotext", "-layout")
    assert text.count(takein.tag) >= 2
    assert re.search(r"Taken in: +\w+ 25 Nov 2026", " ".join(text.split()))
    answer = counter_client.get(reverse("takein-slip", args=[takein.pk]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")


def test_figures_beside_a_name_from_right_to_left_keep_their_order_on_paper(monkeypatch, run):
    html = f'<html lang="en"><head><title>Paper</title></head><body><p>{SARA} 12.00, 31 of {SARA}: 020 910</p></body>'
    monkeypatch.setattr(paper, "render_to_string", lambda template, context: html)
    text = run(paper.render("a page", {}), "pdftotext", "-layout")
    assert "12.00, 31 of" in text  # without isolates: 31 ,12.00
    assert "020 910" in text  # and 910 020
    assert text.count(SARA) == 2


def test_who_asked_is_told_what_the_fonts_lack_and_what_to_install(profile, counter, counter_client):
    takein = board_of(f"Ana {CUNEIFORM}", counter)
    with hears() as told:
        slip.pdf(takein, profile=Profile.objects.get())
    assert len(told) == 1
    assert CUNEIFORM in told[0]
    assert "Install fonts-noto-core," in told[0]
    counter_client.get(reverse("takein-slip", args=[takein.pk]))
    assert "empty boxes" in counter_client.get(reverse("takein", args=[takein.pk])).content.decode()
