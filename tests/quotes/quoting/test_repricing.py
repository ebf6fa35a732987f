"""When a resin or a rate moves: old and new price of all that is open, what to do, and sent quotes that stay frozen."""

from __future__ import annotations

import inspect
from datetime import timedelta
from decimal import Decimal

from django.urls import reverse

from inventory.models import Pack, PackPrice
from quotes import pricelist, quoting
from quotes.costing import Construction, sand_first, sensitivities
from quotes.estimating import construction, estimate, shop_inputs
from quotes.models import Quote, Way
from quotes.quoting import repricing
from quotes.quoting.choosing import choices
from shop.models import LabourRate, Overhead, TaxRate
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, in_words
from tests.quotes import seed
from tests.quotes.conftest import take_in
from tests.quotes.past import DING

BEFORE = TODAY - timedelta(days=5)


def dearer(key="resin-lam", price="40.00", from_day=TODAY - timedelta(days=1)):
    """1 kg of laminating resin for 40 instead of 6.80."""
    PackPrice.objects.create(pack=Pack.objects.get(material__key=key), price=Decimal(price), from_day=from_day)


def draft_of(counter, versions, name="Dara Finn", **board):
    takein = take_in(counter, brought_by=seed.customer(name), board=seed.fish(**board))
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS,
        damage=takein.damages.get(), signed=Signed(counter, NOW),
    )  # fmt: skip
    return quote


def moves(day=TODAY):
    return {move.quote.pk: move for move in repricing.quote_moves(inputs=shop_inputs(day=day))}


def frozen(quote):
    quote.refresh_from_db()
    ways = Way.objects.filter(board__quote=quote).order_by("position")
    return quote.document.sha256, quote.document.content, [(way.gross, way.totals) for way in ways]


def test_every_price_and_rate_that_moved_is_named_with_old_and_new(versions):
    dearer()
    LabourRate.objects.create(wage_per_hour=Decimal("23.50"), from_day=TODAY)
    Overhead.objects.create(monthly=Decimal("1200"), productive_hours=Decimal("120"), from_day=TODAY)
    TaxRate.objects.filter(for_repairs=True).update(to_day=BEFORE)
    TaxRate.objects.create(name="VAT reduced", percent=Decimal("9"), from_day=TODAY, for_repairs=True)
    found = repricing.what_moved(shop_inputs(day=BEFORE), shop_inputs(day=TODAY))
    assert [(one.name, one.old, one.new, one.per) for one in found] == [
        ("Wage", 22.0, 23.5, "hour"),
        ("Overhead", 9.0, 10.0, "hour"),  # 1080 and 1200 a month over 120 hours
        ("Tax on repairs", 13.5, 9.0, "%"),
        ("Laminating resin", 0.0068, 0.04, "g"),
    ]
    assert repricing.what_moved(shop_inputs(day=TODAY), shop_inputs(day=TODAY)) == []


def test_a_draft_is_to_be_worked_out_again_and_is_by_one_button(versions, counter, counter_client, form_key):
    quote = draft_of(counter, versions)
    assert moves()[quote.pk].do == ""
    dearer()
    move = moves()[quote.pk]
    assert (move.do, move.advice) == ("work out", "Not sent yet: work it out again.")
    way = move.ways[0]
    assert way.new > way.old == Way.objects.get(board__quote=quote).gross
    counter_client.post(reverse("repricing"), {"submission_key": form_key()})
    assert Way.objects.get(board__quote=quote).gross == way.new
    assert moves()[quote.pk].do == ""


def test_a_sent_quote_stays_frozen_and_shows_what_it_would_cost_now(sent, counter, counter_client, form_key):
    before = frozen(sent)
    dearer()
    move = moves()[sent.pk]
    assert move.do == "stays"
    assert (
        move.advice
        == f"Stays as it was sent until {in_words(TODAY + timedelta(days=14))}. Afterwards replace it by a new version."
    )
    keels = move.ways[1]
    assert keels.new > keels.old
    assert keels.earned_now < keels.earned_then
    counter_client.post(reverse("repricing"), {"submission_key": form_key()})
    assert frozen(sent) == before
    page = counter_client.get(reverse("repricing") + f"?since={BEFORE}").content.decode()
    assert f"{keels.old:.2f}" in page
    assert f"{keels.new:.2f}" in page


def test_a_sent_quote_that_ran_out_is_to_be_replaced(sent):
    late = moves(TODAY + timedelta(days=15))[sent.pk]
    assert (late.do, late.advice) == (
        "replace",
        f"Ran out on {in_words(TODAY + timedelta(days=14))}: replace it by a new version at these prices.",
    )


def test_an_agreed_quote_is_not_open(sent, counter):
    quoting.agree(way=sent.boards.get().ways.get(position=2), signed=Signed(counter, NOW), how="at the counter")
    assert moves() == {}


def test_a_price_by_hand_stays_and_an_hour_earns_less(versions, counter):
    quote = draft_of(counter, versions)
    way = Way.objects.get(board__quote=quote)
    quoting.edit_way(
        way=way, signed=Signed(counter, NOW), title="Keels", price_by_hand=Decimal("300"), price_reason="a friend"
    )
    dearer()
    move = moves()[quote.pk]
    assert (move.do, move.ways[0].old, move.ways[0].new) == ("", Decimal("300.00"), Decimal("300.00"))
    assert move.ways[0].earned_now < move.ways[0].earned_then


def test_what_is_worked_out_here_is_what_the_quote_then_says(versions, counter):
    """The same figures as working the draft out on its own page, a trade customer's discount among them."""
    quote = draft_of(counter, versions)
    quote.payer.discount_percent = Decimal("10")
    quote.payer.save()
    quoting.add_line(
        way=Way.objects.get(board__quote=quote),
        words="Fins",
        price=Decimal("60"),
        cost=Decimal("35"),
        signed=Signed(counter, NOW),
    )
    dearer()
    said = moves()[quote.pk].ways[0]
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    way = Way.objects.get(board__quote=quote)
    assert said.new == way.gross
    # the standing price was worked out before the resin rose, so it earns less than the new one
    assert said.earned_now < way.totals["earned_per_hour"]


def test_a_draft_with_something_missing_is_to_be_filled_in(versions, counter):
    quote = draft_of(counter, versions)
    PackPrice.objects.filter(pack__material__key="roving").delete()
    move = moves()[quote.pk]
    assert (move.do, move.ways[0].new) == ("fill in", None)
    assert "“Roving 2000 tex” has no price" in move.ways[0].problems[0]


def test_recipes_show_old_and_new_price_on_their_reference_boards(versions):
    dearer()
    found = repricing.recipe_moves(old=shop_inputs(day=BEFORE), new=shop_inputs(day=TODAY))
    keys = {move.version.recipe.key for move in found}
    assert {"buckle", "snap", "glass-on-twin"} <= keys
    assert "paint-repair" not in keys  # paint takes no laminating resin
    assert all(move.new > move.old for move in found)


def test_a_price_that_begins_later_is_seen_beforehand(versions, keeper_client):
    later = TODAY + timedelta(days=400)
    dearer(from_day=later)
    url = reverse("repricing")
    now = keeper_client.get(f"{url}?since={BEFORE}&day={TODAY}").context
    then = keeper_client.get(f"{url}?since={BEFORE}&day={later}").context
    assert (now["inputs"], now["recipes"]) == ([], [])
    assert [one.name for one in then["inputs"]] == ["Laminating resin"]
    assert then["recipes"]


def test_the_wall_is_compared_with_its_last_print(versions, keeper, keeper_client):
    pricelist.load_starting_rows()
    url = f"{reverse('repricing')}?day={TODAY}"
    assert "Not printed yet" in keeper_client.get(url).content.decode()
    pricelist.print_list(signed=Signed(keeper, NOW), day=TODAY - timedelta(days=2))
    assert (
        "still holds" in keeper_client.get(f"{reverse('repricing')}?day={TODAY - timedelta(days=2)}").content.decode()
    )
    dearer()
    page = keeper_client.get(url).content.decode()
    assert "The wall no longer says what a quote would: print it again" in page


def test_days_that_can_not_be_read_leave_the_usual_ones(versions, keeper_client):
    answer = keeper_client.get(reverse("repricing") + "?since=soon&day=2026-13-45")
    assert answer.status_code == 200
    assert "must be a day, like 2026-11-25" in answer.content.decode()


def test_the_bench_sees_no_prices_here(profile, bench_client, counter_client):
    assert bench_client.get(reverse("repricing")).status_code == 403
    assert counter_client.get(reverse("repricing")).status_code == 200


def test_many_open_quotes_ask_no_more_questions_than_one(versions, counter, django_assert_num_queries):
    inputs = shop_inputs(day=TODAY)
    draft_of(counter, versions)
    with django_assert_num_queries(4):  # quotes, ways with boards, parts with recipes, lines
        repricing.quote_moves(inputs=inputs)
    for number in range(4):
        draft_of(counter, versions, name=f"Rider {number}")
    with django_assert_num_queries(4):
        repricing.quote_moves(inputs=inputs)
    assert Quote.objects.count() == 5


def test_one_draft_that_refuses_does_not_hold_up_the_others(versions, counter):
    stuck, fine = draft_of(counter, versions), draft_of(counter, versions, name="Una Kelly")
    way = Way.objects.get(board__quote=stuck)
    quoting.add_line(way=way, words="Fins", price=Decimal("60"), signed=Signed(counter, NOW))
    Way.objects.filter(pk=way.pk).update(price_by_hand=Decimal("50"))
    dearer()
    done, refusals = repricing.work_out_drafts(quotes=[stuck, fine], signed=Signed(counter, NOW))
    assert done == [fine]
    assert "does not hold the lines by hand" in refusals[0]


def wet_ding(counter, versions):
    """A board priced while it was dry, on which water was found since."""
    takein = take_in(counter, brought_by=seed.customer("Eoin Marsh"), board=seed.fish(), damages=[seed.rail_ding()])
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    quoting.add_way(
        board=quote.boards.get(), version=versions["ding-deck-medium"], measures=DING,
        damage=takein.damages.get(), signed=Signed(counter, NOW),
    )  # fmt: skip
    assert quote.boards.get().ways.get().gross is not None
    quoting.edit_take_in(takein=takein, checks=seed.checked(), signed=Signed(counter, NOW), wet=True)
    return quote


def test_a_wet_board_is_repriced_as_wet_like_it_is_worked_out(versions, counter):
    quote = wet_ding(counter, versions)
    move = moves()[quote.pk]
    assert (move.do, move.ways[0].new) == ("fill in", None)
    assert any("wet core" in problem for problem in move.ways[0].problems)
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert not moves()[quote.pk].moved  # worked out again it says the same: nobody is sent round in a circle


def test_how_sure_a_price_is_looks_at_the_water_in_the_board(versions, counter, counter_client):
    way = wet_ding(counter, versions).boards.get().ways.get()
    page = counter_client.get(reverse("way-sure", args=[way.pk]))
    assert page.context["chart"]["rows"] == []
    assert "nothing is sealed over a wet core" in page.content.decode()


def test_a_recipe_that_seals_a_wet_core_says_so_where_recipes_are_chosen(versions, counter):
    takein = wet_ding(counter, versions).boards.get().takein
    found = {one.core.key: one for one in choices(versions.values(), takein.damages.get(), takein)}
    assert any("wet core" in why for why in found["ding-deck-medium"].refusals)
    takein.wet = False
    assert all("wet core" not in why for one in choices(versions.values(), None, takein) for why in one.refusals)


def test_no_board_reaches_the_core_without_its_water(versions, counter):
    """The bridge has no default that a caller could forget, and tells wet from dry."""
    takein = wet_ding(counter, versions).boards.get().takein
    assert construction(takein) == Construction("pu", "polyester", "glass", wet=True)
    for bridge in (construction, estimate, sensitivities, sand_first):
        board = inspect.signature(bridge).parameters.get("board") or inspect.signature(bridge).parameters["takein"]
        assert board.default is inspect.Parameter.empty, bridge
    assert list(inspect.signature(construction).parameters) == ["takein"]
