"""A quote on the screen: ways side by side, figures that open, the customer's view, sent once, answered once."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import PackPrice
from quotes import quoting
from quotes.costing import STARTING_RECIPES
from quotes.estimating import construction, estimate, shop_inputs
from quotes.forms.figures import MEASURE
from quotes.models import Document, Job, Quote, TakeIn, Way
from shop.models import NumberSeries, Profile
from shop.platform.acts import Signed
from tests import sample_shop
from tests.conftest import NOW, TODAY, in_words
from tests.quotes import seed
from tests.quotes.conftest import take_in, with_two_ways


@pytest.fixture
def today(monkeypatch):
    """The day that the rest of the tests stand on, for pages, which ask the clock."""
    from django.utils import timezone

    monkeypatch.setattr(timezone, "now", lambda: NOW)


BEGINS = {"quote": with_two_ways}
pytestmark = [pytest.mark.usefixtures("today"), pytest.mark.usefixtures("standing")]


def read(client, name, *args, **query):
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return answer.content.decode()


def tap(client, form_key, name, *args, **entries):
    return client.post(reverse(name, args=args), {**entries, "submission_key": form_key()})


def keels(**changed):
    return {MEASURE + name: text for name, text in {**seed.KEELS, **changed}.items() if text not in (None, "0")}


def way(quote, position=2):
    return Way.objects.get(board__quote=quote, position=position)


def test_a_quote_is_begun_from_the_board(counter_client, takein, form_key):
    answer = tap(counter_client, form_key, "quote-new", takein.pk)
    quote = Quote.objects.get()
    assert answer.url == reverse("quote", args=[quote.pk])
    assert "No way to fix it yet" in read(counter_client, "quote", quote.pk)


def test_recipes_that_suit_the_damage_come_first(counter_client, quote):
    page = read(counter_client, "way-new", quote.boards.get().pk)
    suited, others = page.split("Other recipes")
    assert "Fin box out and new" in suited
    assert "Glass-on twin fins" in suited
    assert "Open ding on the rail, small" in others


def test_the_form_asks_what_the_recipe_measures_and_knows_what_take_in_measured(counter_client, quote):
    page = read(counter_client, "way-new", quote.boards.get().pk, recipe="glass-on-twin")
    assert f'name="{MEASURE}fin_base"' in page
    assert re.search(rf'name="{MEASURE}pocket_length" value="118 mm"', page)
    assert re.search(rf'name="{MEASURE}pocket_depth" value="23 mm"', page)
    assert "where the fin meets it" in page


def test_a_way_is_added_and_stands_beside_the_others(counter_client, quote, form_key):
    board = quote.boards.get()
    entries = {"recipe": "glass-on-fin", "title": "One keel", "words": "Only the left one.", **keels(fins="1")}
    answer = tap(counter_client, form_key, "way-new", board.pk, **entries)
    assert answer.url == reverse("quote", args=[quote.pk])
    page = read(counter_client, "quote", quote.pk)
    assert re.findall(r"<h3>(.*?)</h3>", page) == [
        "1 Fin box out and new", "2 Glass-on keels, both sides", "3 One keel"]  # fmt: skip
    for row in board.ways.all():
        assert f"€{row.gross:,.2f}" in page


def test_the_form_may_be_sent_to_the_address_that_chose_the_recipe(counter_client, quote, form_key):
    url = f"{reverse('way-new', args=[quote.boards.get().pk])}?recipe=glass-on-fin"
    sent = {"title": "One keel", **keels(fins="1"), "submission_key": form_key()}
    assert counter_client.post(url, sent).status_code == 302
    assert way(quote, 3).title == "One keel"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("132 g", "Fin base"),
        ("-132", "Fin base"),
        ("", "Fin base is empty"),
        ("wide", "Fin base"),
        ("9" * 10_000, "Fin base"),
        ("9**9**9 m", "Fin base"),
        ("1,500", "does 1,500 mean"),
        ("1.500 mm", "does 1.500 mm mean 1.5 mm or 1500 mm"),
        ("1,500 mm", "does 1,500 mm mean 1.5 mm or 1500 mm"),
        ("3 m", "Fin base of 3 m is unusual"),
        ("1000 m", "Fin base must be at most 5200 mm; 1000 m is a slip"),
    ],
)
def test_a_wrong_measure_is_said_beside_it_and_everything_kept(counter_client, quote, form_key, typed, says):
    entries = {"recipe": "glass-on-twin", "title": "Mine", **keels(fin_height="5 in"), f"{MEASURE}fin_base": typed}
    answer = tap(counter_client, form_key, "way-new", quote.boards.get().pk, **entries)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert f'id="id_{MEASURE}fin_base_error"' in page
    assert f'href="#id_{MEASURE}fin_base"' in page
    assert 'value="5 in"' in page
    assert 'value="Mine"' in page
    assert "<title>Error: " in page
    assert Way.objects.count() == 2


def test_a_fin_base_of_three_metres_is_asked_about_once(counter_client, quote, form_key):
    odd = {"recipe": "glass-on-twin", "title": "Long", **keels(fin_base="3 m")}
    asked = tap(counter_client, form_key, "way-new", quote.boards.get().pk, **odd)
    assert f'name="odd_{MEASURE}fin_base"' in asked.content.decode()
    yes = {**odd, f"odd_{MEASURE}fin_base": "on"}
    answer = tap(counter_client, form_key, "way-new", quote.boards.get().pk, **yes)
    assert answer.status_code == 302
    assert way(quote, 3).parts.get().accepted_odd == ["fin_base"]


def test_a_kilometre_with_the_odd_box_ticked_is_refused_beside_its_box(counter_client, quote, form_key):
    """It used to end in an error page after some seconds, in which nobody else could write."""
    yes = {f"odd_{MEASURE}{name}": "on" for name in ("fin_base", "fin_height")}
    odd = {"recipe": "glass-on-twin", "title": "Long", **keels(fin_base="1000 m", fin_height="1000 m"), **yes}
    answer = tap(counter_client, form_key, "way-new", quote.boards.get().pk, **odd)
    assert answer.status_code == 422
    assert "Fin base must be at most" in answer.content.decode()
    assert Way.objects.count() == 2


def test_the_largest_that_is_taken_is_worked_out_kept_and_shown(counter_client, quote, form_key):
    """Every measure of the slowest recipe at its ceiling, all of them said to be right."""
    core = STARTING_RECIPES["pressure-dent"]
    sizes = {f"{MEASURE}{one.name}": f"{int(one.most)}" for one in core.measures}
    yes = {f"odd_{name}": "on" for name in sizes}
    answer = tap(
        counter_client, form_key, "way-new", quote.boards.get().pk, recipe=core.key, title="Hail", **sizes, **yes
    )
    assert answer.status_code == 302
    assert way(quote, 3).minutes > 1e6
    assert counter_client.get(reverse("quote", args=[quote.pk])).status_code == 200


def test_a_measure_kept_from_before_keeps_its_meaning_and_is_not_asked_about_unread(counter_client, counter, quote):
    """“1.270 m” was read as a metre and a bit when it was stored; in its box it now leaves no doubt."""
    row = way(quote)
    part = row.parts.get()
    part.measures, part.accepted_odd = {**part.measures, "fin_height": "1.270 m"}, ["fin_height"]
    part.save()
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    part.refresh_from_db()
    assert part.snapshot["measures"]["fin_height"]["value"] == 1270.0
    assert 'value="1.2700 m"' in read(counter_client, "part-edit", part.pk)


def test_what_the_core_finds_missing_stands_beside_its_box(counter_client, quote, form_key):
    entries = {"recipe": "glass-on-twin", "title": "x", **keels(pocket_depth=None)}
    answer = tap(counter_client, form_key, "way-new", quote.boards.get().pk, **entries)
    assert answer.status_code == 422
    assert f'id="id_{MEASURE}pocket_depth_error"' in answer.content.decode()


def test_measures_are_changed_from_the_way(counter_client, quote, form_key):
    row = way(quote)
    part, before = row.parts.get(), row.cost
    page = read(counter_client, "part-edit", part.pk)
    assert re.search(rf'name="{MEASURE}fin_base" value="168.0"', page)
    answer = tap(counter_client, form_key, "part-edit", part.pk, damage=str(part.damage_id), **keels(fin_base="200"))
    assert answer.url == reverse("way-edit", args=[row.pk])
    assert way(quote).cost > before


def test_a_second_repair_and_a_line_by_hand_from_the_ways_page(counter_client, quote, form_key):
    row = way(quote)
    ding = {f"{MEASURE}length": "50", f"{MEASURE}around": "30", f"{MEASURE}depth": "8"}
    answer = tap(counter_client, form_key, "part-new", row.pk, recipe="ding-rail-small", damage="", **ding)
    assert answer.status_code == 302
    line = {"words": "Keel fins, pair", "price": "38.00", "cost": "21", "rate": "23"}
    tap(counter_client, form_key, "way-line-new", row.pk, **line)
    page = read(counter_client, "way-edit", row.pk)
    assert "Open ding on the rail, small" in page
    assert "€38.00" in page
    assert way(quote).totals["lines"][1]["tax_percent"] == "23"
    extra = way(quote).parts.last()
    tap(counter_client, form_key, "part-remove", extra.pk)
    tap(counter_client, form_key, "way-line-remove", way(quote).lines.get().pk)
    assert way(quote).parts.count() == 1
    refused = tap(counter_client, form_key, "part-remove", way(quote).parts.get().pk)
    assert refused.status_code == 422
    assert "only repair" in refused.content.decode()


def test_a_price_below_cost_is_asked_about_once(counter_client, quote, form_key):
    row = way(quote)
    entries = {"title": row.title, "words": row.words, "price_by_hand": "100", "price_reason": "a friend"}
    asked = tap(counter_client, form_key, "way-edit", row.pk, **entries)
    assert asked.status_code == 422
    assert 'name="below_cost"' in asked.content.decode()
    assert tap(counter_client, form_key, "way-edit", row.pk, **entries, below_cost="on").status_code == 302
    assert way(quote).gross == 100
    assert "below cost" in read(counter_client, "quote", quote.pk)


def test_a_price_by_hand_that_can_not_be_read_keeps_everything(counter_client, quote, form_key):
    row = way(quote)
    entries = {"title": "My words", "words": "x", "price_by_hand": "1,500", "price_reason": "a friend"}
    answer = tap(counter_client, form_key, "way-edit", row.pk, **entries)
    assert answer.status_code == 422
    assert 'value="1,500"' in answer.content.decode()
    assert 'value="My words"' in answer.content.decode()
    assert way(quote).price_by_hand is None


def test_the_shops_figures_are_not_on_the_customers_screen(counter_client, quote):
    shop_side = read(counter_client, "quote", quote.pk)
    turned = read(counter_client, "quote-customer", quote.pk)
    rows = list(Way.objects.filter(board__quote=quote))
    for row in rows:
        assert f"€{row.gross:,.2f}" in turned
        assert f"{row.cost:,.2f}" in shop_side
        assert f"{row.cost:,.2f}" not in turned
        assert f"{row.totals['earned_per_hour']:.2f}" not in turned
    for word in ("cost", "earns", "margin", "Hands on", "For the shop"):
        assert word.lower() not in turned.lower()
    for room in ("rack", "store", "money", "customers"):
        assert f'href="{reverse(room)}"' not in turned


def test_any_figure_opens_down_to_the_stock_price(counter_client, quote):
    page = read(counter_client, "way-why", way(quote).pk)
    snapshot = way(quote).parts.get().snapshot
    assert page.count("<details>") > len(snapshot["lines"])
    for words in (
        f"pack of 1000 g, Slipway Supplies, {in_words(sample_shop.PRICED_FROM, weekday=False)}",
        "common practice, no source",
        "kg/m³",
    ):
        assert words in page
    shown = sum(Decimal(line["cost_shown"]) for line in snapshot["lines"])
    assert shown == Decimal(snapshot["cost"])
    assert snapshot["cost"] in page


def test_what_is_missing_is_listed_with_where_to_fill_it_in(counter_client, quote, form_key):
    price = PackPrice.objects.get(pack__material__key="roving")
    price.delete()
    tap(counter_client, form_key, "quote-work-out", quote.pk)
    page = read(counter_client, "quote", quote.pk)
    assert page.count("1 price missing: Roving 2000 tex.") == 1
    assert reverse("quote-price-sheet", args=[quote.pk]) in page
    assert reverse("quote-send", args=[quote.pk]) not in page
    refused = tap(counter_client, form_key, "quote-send", quote.pk)
    assert refused.status_code == 422
    assert "1 price missing: Roving 2000 tex." in refused.content.decode()


def test_sent_twice_from_two_windows_is_one_number_and_the_same_bytes(counter_client, quote, form_key):
    first, second = (tap(counter_client, form_key, "quote-send", quote.pk) for _ in range(2))
    assert first.url == second.url == reverse("quote", args=[quote.pk])
    assert NumberSeries.objects.get(key="quote").next_number == 2
    assert Document.objects.count() == 1
    url = reverse("quote-pdf", args=[quote.pk])
    one, two = (counter_client.get(url) for _ in range(2))
    assert one.content == two.content == bytes(Document.objects.get().pdf)
    assert one["Content-Type"] == "application/pdf"
    assert f"quote-Q{TODAY.year}-0001.pdf" in one["Content-Disposition"]


def test_a_preview_is_a_paper_without_a_number(counter_client, quote):
    answer = counter_client.get(reverse("quote-preview", args=[quote.pk]))
    assert answer.content.startswith(b"%PDF")
    assert not Document.objects.exists()
    quote.refresh_from_db()
    assert quote.number == ""


def test_a_rush_costs_a_supplement_on_every_way_and_in_the_next_version(counter_client, counter, quote, form_key):
    Profile.objects.update(price_step=Decimal("0.01"), minimum_price=Decimal(0))
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    plain = [way(quote, n).gross for n in (1, 2)]
    entries = {"payer": quote.payer_id, "note": ""}
    refused = tap(counter_client, form_key, "quote-edit", quote.pk, **entries, rush_percent="soon")
    assert refused.status_code == 422
    assert "Supplement for a rush" in refused.content.decode()
    tap(counter_client, form_key, "quote-edit", quote.pk, **entries, rush_percent="20")
    rushed = [way(quote, n).gross for n in (1, 2)]
    for n, much, little in zip((1, 2), rushed, plain, strict=True):
        part = way(quote, n).parts.get()
        alone = estimate(
            version=part.recipe_version, measures=part.measures, day=TODAY, accepted_odd=part.accepted_odd,
            board=construction(way(quote, n).board.takein), inputs=shop_inputs(day=TODAY).alone(),
        )  # fmt: skip
        assert abs(much - alone.priced.shown * Decimal("1.2")) <= Decimal("0.02")  # a rush is worked alone
        assert much > little * Decimal("1.2")
    assert "Rush supplement of 20 %" in read(counter_client, "way-why", way(quote).pk)
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    new = quoting.replace_quote(quote=quote, signed=Signed(counter, NOW))
    assert [way(new, n).gross for n in (1, 2)] == rushed
    tap(counter_client, form_key, "quote-edit", new.pk, **entries, rush_percent="")
    assert [way(new, n).gross for n in (1, 2)] == plain


def test_prices_that_moved_are_shown_before_it_goes_out(counter_client, quote, form_key):
    PackPrice.objects.filter(pack__material__key="cloth-6oz").update(price=Decimal("9000"))
    refused = tap(counter_client, form_key, "quote-send", quote.pk)
    assert refused.status_code == 422
    assert "the price was" in refused.content.decode()
    assert reverse("quote-work-out", args=[quote.pk]) in refused.content.decode()
    tap(counter_client, form_key, "quote-work-out", quote.pk)
    assert tap(counter_client, form_key, "quote-send", quote.pk).status_code == 302


def test_a_yes_at_the_counter_opens_a_job(counter_client, sent, form_key):
    row = way(sent)
    page = read(counter_client, "way-agree", row.pk)
    assert "at the counter" in page
    answer = tap(counter_client, form_key, "way-agree", row.pk, how="by phone")
    assert answer.url.startswith("/job/")
    sent.refresh_from_db()
    assert sent.state == "agreed"
    shown = read(counter_client, "quote", sent.pk)
    assert "Agreed, by phone" in shown
    assert reverse("way-agree", args=[way(sent, 1).pk]) not in shown


def test_a_board_that_was_here_before_may_come_back_at_our_cost(counter_client, counter, job, versions, form_key):
    Job.objects.update(state=Job.State.PICKED_UP)
    assert f"{reverse('takein-new')}?board={job.takein.board_id}" in read(counter_client, "job", job.pk)
    assert f"{reverse('takein-new')}?board={job.takein.board_id}" in read(counter_client, "board", job.takein.board_id)
    here = counter_client.get(reverse("takein-new"), {"board": job.takein.board_id})
    assert here.url == reverse("takein", args=[job.takein_id])
    TakeIn.objects.update(gone_at=NOW)
    takein = take_in(counter, brought_by=job.takein.brought_by, board=job.takein.board)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    row = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW)
    )
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    assert f"{job.takein.tag}: Glass-on keels, both sides" in read(counter_client, "way-agree", row.pk)
    said = {"how": "by phone", "free": "on"}
    refused = tap(counter_client, form_key, "way-agree", row.pk, **said)
    assert "Say which earlier repair comes back" in refused.content.decode()
    refused = tap(counter_client, form_key, "way-agree", row.pk, **said, comeback_of=job.pk)
    assert refused.status_code == 422
    assert "Cause is empty" in refused.content.decode()
    assert Job.objects.count() == 1
    tap(counter_client, form_key, "way-agree", row.pk, **said, comeback_of=job.pk, cause="ours")
    again = Job.objects.get(comeback_of=job)
    assert (again.cause, again.billed) == ("ours", False)
    assert f'comeback of <a href="{reverse("job", args=[job.pk])}"' in read(counter_client, "job", again.pk)
    assert f'It came back: <a href="{reverse("job", args=[again.pk])}"' in read(counter_client, "job", job.pk)


def test_a_no_and_a_new_version(counter_client, sent, form_key):
    assert tap(counter_client, form_key, "quote-decline", sent.pk, reason="").status_code == 422
    tap(counter_client, form_key, "quote-decline", sent.pk, reason="too dear")
    assert "Declined</span>" in read(counter_client, "quote", sent.pk)
    answer = tap(counter_client, form_key, "quote-replace", sent.pk)
    new = Quote.objects.get(version=2)
    assert answer.url == reverse("quote", args=[new.pk])
    assert reverse("quote", args=[new.pk]) in read(counter_client, "quote", sent.pk)


def test_quotes_are_found_by_number_name_tag_and_board(counter_client, sent):
    for q in (sent.number, "Niamh", "001", "fish"):
        assert sent.number in read(counter_client, "quotes", q=q)
    assert "Nothing found" in read(counter_client, "quotes", q="nobody", show="all")
    closed = counter_client.get(reverse("quotes"), {"q": sent.number, "show": "declined"})
    assert "show=all" in closed.url  # not among these, so it is looked for among all
    assert sent.number in read(counter_client, "quotes")
    assert sent.number not in read(counter_client, "quotes", show="declined")


def test_payer_note_and_another_board(counter_client, quote, counter, form_key):
    payer = quote.payer
    other = take_in(counter, brought_by=payer)
    assert f"tag {other.tag}" in read(counter_client, "quote-board-new", quote.pk)
    tap(counter_client, form_key, "quote-board-new", quote.pk, takein=str(other.pk))
    assert quote.boards.count() == 2
    tap(counter_client, form_key, "quote-edit", quote.pk, payer=str(payer.pk), note="See you Friday")
    assert "See you Friday" in read(counter_client, "quote-customer", quote.pk)


@pytest.mark.parametrize("name", ["quote", "quote-customer"])
def test_a_quote_asks_as_often_for_five_ways_as_for_two(
    counter_client, quote, versions, counter, name, django_assert_max_num_queries
):
    url = reverse(name, args=[quote.pk])
    with django_assert_max_num_queries(14) as few:
        counter_client.get(url)
    board = quote.boards.get()
    for _ in range(3):
        quoting.add_way(board=board, version=versions["fin-box"], measures=BOX, signed=Signed(counter, NOW))
    with django_assert_max_num_queries(len(few)):
        counter_client.get(url)


BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}


def test_the_list_asks_as_often_for_many_quotes_as_for_one(
    counter_client, quote, versions, counter, django_assert_max_num_queries
):
    url = reverse("quotes")
    with django_assert_max_num_queries(12) as few:
        counter_client.get(url)
    for _ in range(4):
        more = quoting.start_quote(takeins=[take_in(counter)], signed=Signed(counter, NOW))
        quoting.add_way(board=more.boards.get(), version=versions["fin-box"], measures=BOX, signed=Signed(counter, NOW))
        quoting.send_quote(quote=more, signed=Signed(counter, NOW))
    with django_assert_max_num_queries(len(few)):
        counter_client.get(url)
