"""The price list on the wall.

The same engine as a quote, no price where a part is unknown, and what has moved since.
"""

from __future__ import annotations

import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Pack, PackPrice
from quotes import pricelist
from quotes.costing import Construction
from quotes.estimating import estimate, shop_inputs
from quotes.models import PRICE_ROWS_AT_MOST, PriceListPrint, PriceListRow
from quotes.papers import price_list as paper
from quotes.pricelist.rows import STARTING_ROWS
from shop.models import JournalEntry, Profile
from shop.papers.paper import fingerprint
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, in_words
from tests.quotes.conftest import refusal
from tests.reading import says


@pytest.fixture
def rows(versions):
    return pricelist.load_starting_rows()


def cells(day=TODAY):
    listed = pricelist.price_list(day=day)
    return {(line.row.repair, line.row.size, cell.column.key): cell for line in listed.lines for cell in line.cells}


def print_it(keeper, **more):
    return pricelist.print_list(**{"signed": Signed(keeper, NOW), "day": TODAY, **more})


def moved(last, day=TODAY):
    return pricelist.moved(pricelist.price_list(day=day).said(), last.prices)


def dearer(key, price, from_day=TODAY):
    PackPrice.objects.create(pack=Pack.objects.get(material__key=key), price=Decimal(price), from_day=from_day)


def test_every_starting_row_has_a_price_on_both_constructions(rows):
    assert len(rows) == len(STARTING_ROWS)
    assert all(cell.price is not None and not cell.problems for cell in cells().values())
    assert pricelist.load_starting_rows() == []


def test_a_price_on_the_wall_is_the_price_a_quote_would_have(rows, versions):
    row = next(row for row in rows if row.repair == "Buckle" and row.size == "shortboard")
    for key, board in (("pu", Construction("pu", "polyester")), ("eps", Construction("eps", "epoxy"))):
        made = estimate(
            version=versions["buckle"], measures=row.measures, day=TODAY, board=board, inputs=shop_inputs(day=TODAY)
        )
        assert cells()["Buckle", "shortboard", key].price == made.priced.shown


def test_a_larger_size_class_never_costs_less(rows):
    found = cells()
    for repair in {row.repair for row in rows}:
        for key in ("pu", "eps"):
            prices = [found[row.repair, row.size, key].price for row in rows if row.repair == repair]
            assert prices == sorted(prices), repair


def test_a_row_with_an_unknown_part_has_no_price_and_says_what_is_missing(rows, keeper, keeper_client):
    PackPrice.objects.filter(pack__material__key="leash-plug").delete()
    cell = cells()["Leash plug", "one", "pu"]
    assert cell.price is None
    assert [problem.text for problem in cell.problems] == ["“Leash plug” has no price: give one of its packs a price."]
    page = says(keeper_client.get(reverse("price-list")))
    assert page.count("1 price missing: Leash plug.") == 1
    assert "has no price" not in page
    assert reverse("price-sheet") in page
    text = PdfReader(io.BytesIO(print_it(keeper).document.pdf)).pages[0].extract_text()
    assert re.search(r"Leash plug one\s+ask us\s+ask us", text)


def test_work_that_must_not_be_done_to_a_board_is_not_done_there(rows, versions):
    body = versions["re-gloss"].body
    acts = [
        {**act, "settings": {**act["settings"], "system": "polyester"}} if act["operation"] == "gloss-coat" else act
        for act in body["operations"]
    ]
    versions["re-gloss"].recipe.versions.filter(number=1).update(body={**body, "operations": acts})
    found = cells()
    assert found["Gloss coat, whole board", "shortboard", "pu"].price is not None
    eps = found["Gloss coat, whole board", "shortboard", "eps"]
    assert (eps.price, eps.refused) == (None, True)
    assert eps.problems[0].text.startswith("Polyester melts EPS foam")


def test_right_after_a_print_nothing_has_moved(rows, keeper):
    assert moved(print_it(keeper)) == []


def test_a_dearer_resin_moves_the_wall_and_only_where_it_is_used(rows, keeper):
    last = print_it(keeper)
    dearer("resin-lam", "40.00")  # 1 kg for 40 instead of 6.80
    moves = moved(last)
    assert {move.column_words for move in moves} == {"PU foam, polyester"}
    assert all(move.new > move.old for move in moves)
    assert not any(move.repair == "Colour made good" for move in moves)


def test_rows_that_came_and_went_since_the_print_are_moves_too(rows, versions, keeper):
    last = print_it(keeper)
    gone = PriceListRow.objects.get(repair="Leash plug")
    pricelist.remove_row(row=gone, signed=Signed(keeper, NOW))
    new = pricelist.add_row(
        repair="Snapped in two", size="gun", recipe=versions["snap"].recipe, only_from=True, signed=Signed(keeper, NOW)
    )
    measures = {"board_width": "480 mm", "board_thickness": "70 mm", "gap": "6 mm"}
    pricelist.change_row(
        row=new, repair=new.repair, size=new.size, only_from=True, measures=measures, signed=Signed(keeper, NOW)
    )
    moves = {
        (move.repair, move.size, move.column_words[:3]): (move.old is None, move.new is None) for move in moved(last)
    }
    assert moves == {
        ("Snapped in two", "gun", "PU "): (True, False),
        ("Snapped in two", "gun", "EPS"): (True, False),
        ("Leash plug", "one", "PU "): (False, True),
        ("Leash plug", "one", "EPS"): (False, True),
    }


def test_a_new_row_stands_with_the_rows_of_its_repair(rows, versions, keeper):
    new = pricelist.add_row(
        repair="Buckle", size="gun", recipe=versions["buckle"].recipe, only_from=True, signed=Signed(keeper, NOW)
    )
    names = [row.repair for row in PriceListRow.objects.all()]
    assert names.index("Snapped in two") == names.index("Buckle") + 3
    assert [row.position for row in PriceListRow.objects.all()] == list(range(1, len(rows) + 2))
    pricelist.move_row(row=new, steps=-1, signed=Signed(keeper, NOW))
    assert [row.size for row in PriceListRow.objects.filter(repair="Buckle")] == ["shortboard", "gun", "longboard"]


def test_the_sheet_holds_so_many_rows(rows, versions, keeper):
    recipe = versions["snap"].recipe
    for number in range(PRICE_ROWS_AT_MOST - len(rows)):
        pricelist.add_row(repair="More", size=str(number), recipe=recipe, only_from=False, signed=Signed(keeper, NOW))
    said = refusal(
        lambda: pricelist.add_row(
            repair="More", size="one more", recipe=recipe, only_from=False, signed=Signed(keeper, NOW)
        )
    )
    assert said == {"__all__": [f"The sheet holds {PRICE_ROWS_AT_MOST} rows: take one out first."]}


def test_a_print_keeps_its_paper_and_what_it_said(rows, keeper):
    made = print_it(keeper)
    assert fingerprint(bytes(made.document.pdf)) == made.document.sha256
    assert len(made.prices) == 2 * len(rows)
    assert JournalEntry.objects.filter(verb="wall_list.print").count() == 1
    assert "cost" not in repr(made.document.content).replace("What a repair costs", "")


def test_a_list_without_a_single_price_is_not_printed(versions, keeper):
    said = refusal(lambda: print_it(keeper))
    assert said["__all__"][0].startswith("No price on the list is known yet")
    assert not PriceListPrint.objects.exists()


def content(count, paper_size="A4"):
    """A list of so many rows, with long words and prices of four figures."""
    rows = [
        {
            "size": f"hole up to {number} cm",
            "only_from": number % 2 == 0,
            "prices": [{"price": "1165.00", "refused": False}, {"price": None, "refused": number % 3 == 0}],
        }
        for number in range(count)
    ]
    return {
        "day": TODAY.isoformat(), "currency": "EUR", "locale": "en_IE", "paper": paper_size, "tax_words": "VAT included",
        "seller": {"name": "Test Board Repairs", "address": "1 Test Lane\nTestport", "phone": "020 910 0199",
                   "email": "rack@example.ie", "website": "rack.example"},
        "columns": ["PU foam, polyester", "EPS foam, epoxy"],
        "groups": [{"repair": f"Open ding of kind {n}", "rows": rows[n : n + 3]} for n in range(0, count, 3)],
    }  # fmt: skip


@pytest.mark.parametrize("size", ["A4", "letter"])
@pytest.mark.parametrize("count", [1, 22, 28, PRICE_ROWS_AT_MOST])
def test_the_list_is_one_page_to_hang_up(count, size):
    pdf = paper.pdf(content(count, size))
    pages = PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert "What a repair costs" in text
    assert in_words(TODAY) in text
    assert "from 1,165.00" in text or count == 1


def test_the_starting_list_is_one_a4_page_with_its_date(rows, keeper):
    page = PdfReader(io.BytesIO(print_it(keeper).document.pdf)).pages
    assert len(page) == 1
    assert [round(float(side)) for side in page[0].mediabox[2:]] == [595, 842]  # A4, ISO 216: 210 × 297 mm in points
    text = page[0].extract_text()
    for row in rows:
        assert row.repair in text
    assert f"Priced on {in_words(TODAY)}" in text
    assert "VAT included" in text


def test_the_customers_page_shows_prices_and_nothing_of_the_shops_own(rows, counter_client):
    page = says(counter_client.get(reverse("price-list-web")))
    assert "VAT included" in page
    assert "from <strong>" in page
    for word in ("Cost to", "margin", "earn", "Recipes", "hands on"):
        assert word not in page


def test_the_counter_prints_and_the_keeper_changes_and_the_bench_sees_no_price(
    rows, keeper_client, counter_client, bench_client, form_key
):
    row = reverse("price-row", args=[rows[0].pk])
    pages = [reverse("price-list"), reverse("price-list-web"), row, reverse("price-row-new")]
    assert [keeper_client.get(page).status_code for page in pages] == [200, 200, 200, 200]
    assert [counter_client.get(page).status_code for page in pages] == [200, 200, 403, 403]
    assert [bench_client.get(page).status_code for page in pages] == [403, 403, 403, 403]
    answer = counter_client.post(reverse("price-list-print"), {"submission_key": form_key()})
    assert answer.status_code == 302
    assert counter_client.get(answer.url)["Content-Type"] == "application/pdf"
    assert bench_client.get(answer.url).status_code == 403


def test_a_double_tap_prints_once(rows, counter_client, form_key):
    sent = {"submission_key": form_key()}
    first, second = (counter_client.post(reverse("price-list-print"), sent) for _ in range(2))
    assert first.url == second.url
    assert PriceListPrint.objects.count() == 1


def test_measures_of_a_row_are_read_in_any_unit_and_odd_ones_are_asked_about(rows, keeper_client, form_key):
    row = PriceListRow.objects.get(repair="Buckle", size="shortboard")
    typed = {"repair": row.repair, "size": row.size, "only_from": "on", "submission_key": form_key()}
    measures = {
        "m_board_width": "20 in",
        "m_board_thickness": "62",
        "m_crease_width": "4 cm",
        "m_crease_depth": "80 mm",
    }
    url = reverse("price-row", args=[row.pk])
    asked = keeper_client.post(url, {**typed, **measures})
    assert asked.status_code == 422
    assert "is unusual. Tick the box if it is right." in says(asked)
    sent = {**typed, **measures, "odd_m_crease_depth": "on", "submission_key": form_key()}
    assert keeper_client.post(url, sent).status_code == 302
    row.refresh_from_db()
    assert (row.measures["board_width"], row.accepted_odd) == ("20 in", ["crease_depth"])
    assert cells()["Buckle", "shortboard", "pu"].price is not None


def test_a_refused_print_shows_the_page_again_with_the_sentence(profile, counter_client, form_key):
    answer = counter_client.post(reverse("price-list-print"), {"submission_key": form_key()})
    assert answer.status_code == 422
    assert "No price on the list is known yet" in says(answer)


def test_a_button_of_an_older_page_is_answered_with_a_sentence(rows, keeper_client):
    answer = keeper_client.post(reverse("price-row-move", args=[rows[0].pk]), {"do": "out", "submission_key": "old"})
    assert answer.status_code == 422
    assert "This form is from an older page" in says(answer)
    assert PriceListRow.objects.count() == len(rows)


def test_the_list_asks_the_same_number_of_questions_however_long(rows, django_assert_num_queries):
    with django_assert_num_queries(13):
        pricelist.price_list(day=TODAY)
    PriceListRow.objects.exclude(repair="Buckle").delete()
    with django_assert_num_queries(13):
        pricelist.price_list(day=TODAY)


def test_tomorrows_price_counts_from_tomorrow(rows):
    dearer("resin-lam", "40.00", from_day=TODAY + timedelta(days=1))
    today, tomorrow = cells(), cells(TODAY + timedelta(days=1))
    assert today["Buckle", "shortboard", "pu"].price < tomorrow["Buckle", "shortboard", "pu"].price


def test_prices_without_tax_say_so(rows):
    Profile.objects.update(prices_include_tax=False)
    assert pricelist.price_list(day=TODAY).tax_words == "plus VAT"
    Profile.objects.update(tax_profile="none")
    assert pricelist.price_list(day=TODAY).tax_words == ""
