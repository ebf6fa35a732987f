"""The ground of every paper: right size, own fonts, a head on every page, and its state in words on every page."""

from __future__ import annotations

import io
from types import SimpleNamespace

import pypdf
import pytest
from django.template import engines

from shop.papers import paper

PAPER = """{% extends "papers/base.html" %}{% load look %}{% block paper %}
{% include "papers/parts/parties.html" %}<h1>Work done</h1>
{% include "papers/parts/board.html" with board=board damages=damages words="Fish with one damage" %}
<table><thead><tr><th scope="col">What</th><th scope="col" class="n">Amount</th></tr></thead><tbody>
{% for line in lines %}<tr><th scope="row">{{ line }}</th><td class="n">{% amount "1.5" %}</td></tr>{% endfor %}
</tbody></table>
{% include "papers/parts/totals.html" with rows=rows %}
{% include "papers/parts/cautions.html" with cautions=cautions %}
{% include "papers/parts/lines.html" with lines=3 %}{% layup 3 8 True %}{% patch 2 True %}{% span figures 60 %}
{% include "papers/parts/signature.html" %}{% endblock %}"""
MM = 72 / 25.4


class Mark(SimpleNamespace):
    def get_kind_display(self):
        return "open ding"

    def get_side_display(self):
        return "deck"


def context(**changes):
    return {
        "seller": {"name": "Marram Board Repairs", "address": "2 Slip Lane\nPortmarram", "tax_number": "IE 0000000X"},
        "buyer": {"name": "Zoë Łęcka", "address": "Strand 4"},
        "document_name": "Invoice 2026-0007",
        "document_lines": ["Wed 25 Nov 2026"],
        "foot_words": "Invoice 2026-0007, paid in part",
        "paper": "A4",
        "currency": "EUR",
        "locale": "en_IE",
        "board": SimpleNamespace(length_mm=1676, width_mm=533, nose_mm=381, tail_mm=406, tail_shape="fish"),
        "damages": [Mark(number=1, side="bottom", from_tail_mm=230, from_stringer_mm=-150, words="5′6″ box")],
        "lines": [f"Line {i}" for i in range(3)],
        "rows": [
            {"words": "Work without VAT", "amount": "427.31"},
            {"words": "To pay", "amount": "485", "due": True},
        ],
        "cautions": ["Peroxide catalyst blinds."],
        "figures": [10, 20, 30, 40, 50],
        **changes,
    }


@pytest.fixture
def printed(monkeypatch):
    """Prints the paper above and gives it back read."""

    def show(template: str, ctx: dict) -> str:
        return engines["django"].from_string(PAPER).render(ctx)

    monkeypatch.setattr(paper, "render_to_string", show)
    return lambda **changes: pypdf.PdfReader(io.BytesIO(paper.render("paper", context(**changes))))


def fonts(pdf) -> set[str]:
    found = set()
    for page in pdf.pages:
        for font in page["/Resources"]["/Font"].values():
            found.add(font.get_object()["/BaseFont"].split("+")[-1].lstrip("/"))
    return found


@pytest.mark.parametrize(("size", "width", "height"), [("A4", 210, 297), ("letter", 215.9, 279.4)])
def test_a_paper_has_the_size_the_shop_prints_on(printed, size, width, height):
    # A4: ISO 216; US Letter: 8.5 × 11 in
    box = printed(paper=size).pages[0].mediabox
    assert float(box.width) == pytest.approx(width * MM, abs=0.5)
    assert float(box.height) == pytest.approx(height * MM, abs=0.5)


def test_a_paper_is_set_in_its_own_face_drawings_and_feet_included(printed):
    assert {name.split("-")[0] for name in fonts(printed())} == {"Lato"}


def test_a_name_in_another_alphabet_is_set_and_not_a_row_of_boxes(printed):
    assert "Νίκη Щука" in printed(buyer={"name": "Νίκη Щука"}).pages[0].extract_text()


def test_every_page_says_what_it_is_where_it_is_and_whose(printed):
    pdf = printed(lines=[f"Line {i}" for i in range(90)])
    count = len(pdf.pages)
    assert count >= 3
    for number, page in enumerate(pdf.pages, 1):
        text = page.extract_text()
        assert f"page {number} of {count}" in text
        assert "Invoice 2026-0007, paid in part" in text
        assert "Invoice 2026-0007" in text
        assert "Zoë Łęcka" in text


def test_a_long_list_repeats_its_head_and_its_totals_hold_together(printed):
    pdf = printed(lines=[f"Line {i}" for i in range(90)])
    pages = [page.extract_text() for page in pdf.pages]
    assert all("Amount" in text for text in pages if "Line " in text)
    (last,) = [text for text in pages if "To pay" in text]
    assert "Work without VAT" in last
    assert "Totals in EUR" in last
    assert "€485.00" in last


def test_a_customer_can_not_write_style_or_markup_into_a_paper(printed):
    name = '"; } body { display: none } </style><h1>Free</h1>'
    text = printed(buyer={"name": name}, document_name=f"Quote {name[:3]}").pages[0].extract_text()
    assert "</style><h1>Free</h1>" in text
    assert "Work done" in text


def test_a_paper_is_tagged_and_says_its_language_and_title(printed):
    root = printed().trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert printed().metadata.title == "Invoice 2026-0007"
