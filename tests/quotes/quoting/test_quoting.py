"""Ways and quotes: what is worked out, what is refused, and that a sent quote never changes."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import PackPrice
from quotes import quoting
from quotes.models import Document, Quote, Way
from quotes.papers import quote as quote_paper
from shop.models import ClosedDay, Customer, NumberSeries, Profile
from shop.papers.paper import PaperProblem, fingerprint
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, in_words
from tests.quotes import seed
from tests.quotes.conftest import refusal, take_in, with_two_ways

BEGINS = {"quote": with_two_ways}
pytestmark = pytest.mark.usefixtures("standing")

LATER = NOW + timedelta(days=20)


def send(quote, counter, at=NOW):
    return quoting.send_quote(quote=quote, signed=Signed(counter, at))


def test_a_way_is_worked_out_when_it_is_added(quote):
    keels = quote.boards.get().ways.get(position=2)
    assert keels.title == "Glass-on keels, both sides"
    assert keels.problems == []
    assert keels.gross == keels.net + keels.tax
    assert keels.gross % 5 == 0
    assert keels.totals["document"]["gross"] == f"{keels.gross:.2f}"
    assert keels.parts.get().snapshot["price"] == f"{keels.gross:.2f}"
    assert keels.ready_on > TODAY


def test_a_ready_day_steps_over_closed_days(quote, counter):
    before = quote.boards.get().ways.get(position=2).ready_on
    ClosedDay.objects.create(day=before)
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert quote.boards.get().ways.get(position=2).ready_on != before


def test_a_ready_day_waits_for_the_work_on_the_rack_and_a_rush_does_not(job, versions, counter):
    Profile.objects.update(bench_hours_per_day=1)  # a rush is worked alone, and takes half an hour longer
    other = take_in(counter, brought_by=seed.customer("Tomás"), board=seed.fish())
    quote = quoting.start_quote(takeins=[other], signed=Signed(counter, NOW))
    keels = {"version": versions["glass-on-twin"], "measures": seed.KEELS, "damage": other.damages.get()}
    quoting.add_way(board=quote.boards.get(), signed=Signed(counter, NOW), **keels)
    waiting = Way.objects.get(board__quote=quote)
    assert sum(step.planned_minutes for step in job.steps.all()) > 120, "more than two days, or this shows nothing"
    quoting.edit_quote(quote=quote, signed=Signed(counter, NOW), note="", rush_percent=Decimal(25))
    rush = Way.objects.get(board__quote=quote)
    assert waiting.ready_on > rush.ready_on


def test_a_ready_day_set_by_hand_stays(quote, counter):
    way = quote.boards.get().ways.get(position=1)
    promised = TODAY + timedelta(days=30)
    quoting.edit_way(way=way, signed=Signed(counter, NOW), title="New box", ready_on=promised)
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert quote.boards.get().ways.get(position=1).ready_on == promised
    past = refusal(
        lambda: quoting.edit_way(
            way=way, signed=Signed(counter, NOW), title="New box", ready_on=TODAY - timedelta(days=24)
        )
    )
    assert "lies in the past" in past["ready_on"][0]


@pytest.mark.parametrize(
    ("measure", "typed", "says"),
    [
        ("fin_base", "132 g", "Fin base"),
        ("fin_base", "-132", "Fin base"),
        ("fin_base", "", "Fin base is missing"),
        ("fin_base", "ten", "Fin base"),
        ("fin_base", "1,500", "Fin base"),
        ("fin_base", "9**9**9 m", "Fin base"),
        ("fin_base", "9" * 10_000, "Fin base"),
        ("fin_base", "3 m", "Fin base is 3 m; usual is 40 to 260 mm"),
        ("pockets", "1.5", "must be a whole number"),
        ("pocket_depth", "", "Pocket depth is missing"),
    ],
)
def test_a_wrong_measure_is_a_sentence_beside_it_and_no_way(quote, versions, counter, measure, typed, says):
    board = quote.boards.get()
    said = refusal(
        lambda: quoting.add_way(
            board=board,
            version=versions["glass-on-twin"],
            measures={**seed.KEELS, measure: typed},
            signed=Signed(counter, NOW),
        )
    )
    assert says in said[measure][0]
    assert len(said[measure][0]) < 200
    assert board.ways.count() == 2


def test_an_odd_measure_is_taken_when_it_is_said_to_be_right(quote, versions, counter):
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures={**seed.KEELS, "fin_base": "3 m"},
        accepted_odd=["fin_base"], signed=Signed(counter, NOW),
    )  # fmt: skip
    assert way.parts.get().accepted_odd == ["fin_base"]
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert Way.objects.get(pk=way.pk).problems == []


def test_polyester_on_an_eps_board_is_refused_with_the_reason(versions, counter):
    from quotes.costing import STARTING_RECIPES
    from quotes.models import Recipe, RecipeVersion

    core = STARTING_RECIPES["ding-deck-small"].to_dict()
    core["operations"] = [
        {"operation": "laminate", "settings": {"place": "ding", "plies": ["cloth-4oz"], "system": "polyester"}}
    ]
    row = Recipe.objects.create(key="quick-polyester", name="Quick polyester patch")
    version = RecipeVersion.objects.create(recipe=row, number=1, body=core, made_at=NOW)
    takein = take_in(counter, board=seed.fish(core="eps", resin="epoxy"), damages=[seed.rail_ding()])
    board = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW)).boards.get()
    said = refusal(
        lambda: quoting.add_way(board=board, version=version, measures=seed.DING, signed=Signed(counter, NOW))
    )
    assert any("EPS" in sentence for sentence in said["__all__"])
    assert not board.ways.exists()


def test_a_sixth_way_is_refused(quote, versions, counter):
    one = {"board": quote.boards.get(), "version": versions["glass-on-twin"], "measures": seed.KEELS}
    for _ in range(3):
        quoting.add_way(**one, signed=Signed(counter, NOW))
    assert "at most 5 ways" in str(refusal(lambda: quoting.add_way(**one, signed=Signed(counter, NOW))))


def test_two_repairs_in_one_way_share_one_price(quote, versions, counter):
    way = quote.boards.get().ways.get(position=1)
    alone = way.cost
    ding = {"length": "50", "around": "30", "depth": "8"}
    quoting.add_part(way=way, version=versions["ding-rail-small"], measures=ding, signed=Signed(counter, NOW))
    way = Way.objects.get(pk=way.pk)
    parts = [part.snapshot["cost_unrounded"] for part in way.parts.all()]
    assert way.cost > alone
    assert way.cost == Decimal(str(sum(parts))).quantize(Decimal("0.01"))
    assert way.gross % 5 == 0
    quoting.remove_part(part=way.parts.last(), signed=Signed(counter, NOW))
    assert Way.objects.get(pk=way.pk).cost == alone
    assert "only repair" in str(refusal(lambda: quoting.remove_part(part=way.parts.get(), signed=Signed(counter, NOW))))


def test_other_measures_change_the_price(quote, counter):
    part = quote.boards.get().ways.get(position=2).parts.get()
    before = part.way.cost
    quoting.edit_part(
        part=part, measures={**seed.KEELS, "fin_base": "200"}, signed=Signed(counter, NOW), damage=part.damage
    )
    assert Way.objects.get(pk=part.way_id).cost > before


def test_a_line_by_hand_comes_on_top_at_its_own_rate(quote, counter):
    way = quote.boards.get().ways.get(position=2)
    work = way.gross
    line = quoting.add_line(way=way, words="Keel fins, pair", price=Decimal("38"), cost=Decimal("21"),
                            tax_percent=Decimal("23"), signed=Signed(counter, NOW))  # fmt: skip
    way = Way.objects.get(pk=way.pk)
    assert way.gross == work + 38
    assert [row["percent"] for row in way.totals["document"]["tax_rows"]] == ["23", "13.5"]
    quoting.remove_line(line=line, signed=Signed(counter, NOW))
    assert Way.objects.get(pk=way.pk).gross == work


def test_a_price_by_hand_needs_a_reason_and_a_yes_below_cost(quote, counter):
    way = quote.boards.get().ways.get(position=2)
    one = {"way": way, "signed": Signed(counter, NOW), "title": way.title}
    assert "price_reason" in refusal(lambda: quoting.edit_way(**one, price_by_hand=Decimal("485")))
    below = refusal(lambda: quoting.edit_way(**one, price_by_hand=Decimal("100"), price_reason="a friend"))
    assert "below the expected cost" in below["below_cost"][0]
    quoting.edit_way(**one, price_by_hand=Decimal("100"), price_reason="a friend", below_cost=True)
    assert Way.objects.get(pk=way.pk).gross == 100
    quoting.edit_way(**one)
    assert Way.objects.get(pk=way.pk).gross > 100


def test_ways_change_places_and_close_up(quote, counter):
    box, keels = quote.boards.get().ways.all()
    quoting.move_way_up(way=keels, signed=Signed(counter, NOW))
    assert [w.pk for w in quote.boards.get().ways.all()] == [keels.pk, box.pk]
    quoting.remove_way(way=Way.objects.get(pk=keels.pk), signed=Signed(counter, NOW))
    assert [(w.pk, w.position) for w in quote.boards.get().ways.all()] == [(box.pk, 1)]


def test_a_trade_customer_pays_less(quote, counter):
    before = [way.gross for way in quote.boards.get().ways.all()]
    school = Customer.objects.create(name="School", kind="trade", discount_percent=Decimal("20"))
    quoting.edit_quote(quote=quote, signed=Signed(counter, NOW), note="", payer=school)
    after = [way.gross for way in quote.boards.get().ways.all()]
    assert all(less < more for less, more in zip(after, before, strict=True))


def test_sending_gives_a_number_a_date_and_a_paper(sent):
    assert (sent.number, sent.version, sent.state) == (f"Q{TODAY.year}-0001", 1, "sent")
    assert sent.valid_until == TODAY + timedelta(days=14)
    assert sent.document.sha256 == fingerprint(bytes(sent.document.pdf))
    content = sent.document.content
    assert [way["title"] for way in content["boards"][0]["ways"]] == [
        "Fin box out and new",
        "Glass-on keels, both sides",
    ]
    assert content["seller"]["name"] == "Test Board Repairs"
    assert content["buyer"]["name"] == "Niamh Brennock"


def test_what_the_customer_may_read_holds_no_cost(sent):
    def keys(value):
        if isinstance(value, dict):
            return {*value, *(k for v in value.values() for k in keys(v))}
        return {k for v in value for k in keys(v)} if isinstance(value, list) else set()

    own = "cost cost_unrounded margin earned_per_hour minutes outlay unit_cost price_reason spent"
    assert not keys(sent.document.content) & set(own.split())


def test_sending_twice_gives_one_number_and_one_paper(sent, counter):
    again = send(sent, counter, at=LATER)
    assert (again.number, again.sent_at) == (sent.number, sent.sent_at)
    assert Document.objects.count() == 1
    assert NumberSeries.objects.get(key="quote").next_number == 2


def test_a_sent_quote_does_not_change_when_prices_do(sent, counter):
    before = [(w.gross, w.totals, w.parts.get().snapshot) for w in sent.boards.get().ways.all()]
    PackPrice.objects.update(price=Decimal("999"))
    Profile.objects.update(margin_percent=Decimal("60"))
    way = sent.boards.get().ways.first()
    for act in (
        lambda: quoting.recompute(quote=sent, signed=Signed(counter, NOW)),
        lambda: quoting.edit_way(way=way, signed=Signed(counter, NOW), title="cheaper"),
        lambda: quoting.remove_way(way=way, signed=Signed(counter, NOW)),
        lambda: quoting.add_line(way=way, words="x", price=Decimal(1), signed=Signed(counter, NOW)),
        lambda: quoting.edit_part(part=way.parts.get(), measures=seed.KEELS, signed=Signed(counter, NOW)),
        lambda: quoting.edit_quote(quote=sent, signed=Signed(counter, NOW), note="x"),
    ):
        assert "does not change" in str(refusal(act))
    assert [(w.gross, w.totals, w.parts.get().snapshot) for w in sent.boards.get().ways.all()] == before


def test_a_quote_with_a_price_missing_is_not_sent_and_says_what_is_missing(quote, counter):
    PackPrice.objects.filter(pack__material__key="roving").delete()
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    way = quote.boards.get().ways.get(position=2)
    assert (way.gross, way.cost, way.ready_on) == (None, None, None)
    said = refusal(lambda: send(quote, counter))
    assert said["__all__"] == ["1 price missing: Roving 2000 tex."]


def test_a_quote_without_a_way_is_not_sent(takein, versions, counter):
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    assert "has no way to fix it yet" in str(refusal(lambda: send(quote, counter)))


def test_prices_that_moved_since_are_looked_at_before_the_quote_goes_out(quote, counter):
    PackPrice.objects.filter(pack__material__key="cloth-6oz").update(price=Decimal("9000"))
    said = refusal(lambda: send(quote, counter))
    assert "the price was" in said["__all__"][0]
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert send(quote, counter).number == f"Q{TODAY.year}-0001"


def test_a_failed_sending_leaves_no_gap_in_the_numbers(quote, counter, versions, monkeypatch):
    def torn(content):
        raise PaperProblem("no paper", "The paper tore.")

    with monkeypatch.context() as patch:
        patch.setattr(quote_paper, "pdf", torn)
        said = refusal(lambda: quoting.send_quote(quote=quote, signed=Signed(counter, NOW)))
    assert said["__all__"] == ["The paper tore."]
    quote.refresh_from_db()
    assert (quote.state, quote.number, quote.sequence) == ("draft", "", None)
    assert send(quote, counter).number == f"Q{TODAY.year}-0001"
    other = quoting.start_quote(takeins=[take_in(counter)], signed=Signed(counter, NOW))
    quoting.add_way(
        board=other.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW)
    )
    assert send(other, counter).number == f"Q{TODAY.year}-0002"


def test_a_yes_is_kept_with_who_heard_it_and_how(sent, counter):
    way = quoting.agree(way=sent.boards.get().ways.get(position=2), signed=Signed(counter, NOW), how="at the counter")
    assert (way.agreed_by, way.agreed_how) == (counter, "at the counter")
    sent.refresh_from_db()
    assert sent.state == Quote.State.AGREED


def test_one_board_has_one_way(sent, counter):
    box, keels = sent.boards.get().ways.all()
    quoting.agree(way=keels, signed=Signed(counter, NOW), how="by phone")
    assert "agreed" in str(refusal(lambda: quoting.agree(way=box, signed=Signed(counter, NOW), how="by phone")))
    assert "agreed" in str(refusal(lambda: quoting.agree(way=keels, signed=Signed(counter, NOW), how="by phone")))


def test_a_quote_past_its_date_is_asked_about_once(sent, counter):
    way = sent.boards.get().ways.first()
    said = refusal(lambda: quoting.agree(way=way, signed=Signed(counter, LATER), how="by phone"))
    assert f"held until {in_words(TODAY + timedelta(days=14))}" in said["past_date"][0]
    assert quoting.agree(way=way, signed=Signed(counter, LATER), how="by phone", past_date=True).agreed_at == LATER


def test_a_draft_is_agreed_only_when_it_was_spoken(quote, counter):
    way = quote.boards.get().ways.first()
    assert "quote that was sent" in str(
        refusal(lambda: quoting.agree(way=way, signed=Signed(counter, NOW), how="at the counter"))
    )
    quoting.agree(way=way, signed=Signed(counter, NOW), how="at the counter", spoken=True)
    quote.refresh_from_db()
    assert (quote.state, quote.number) == ("agreed", "")


def test_a_no_needs_its_reason(sent, counter):
    assert "reason" in refusal(lambda: quoting.decline_quote(quote=sent, reason=" ", signed=Signed(counter, NOW)))
    quoting.decline_quote(quote=sent, reason="too dear", signed=Signed(counter, NOW))
    sent.refresh_from_db()
    assert (sent.state, sent.decline_reason) == ("declined", "too dear")


def test_several_boards_are_answered_one_by_one(takein, versions, counter):
    other = take_in(counter, brought_by=takein.brought_by)
    quote = quoting.start_quote(takeins=[takein, other], signed=Signed(counter, NOW))
    ways = [
        quoting.add_way(
            board=board, version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW)
        )
        for board in quote.boards.all()
    ]
    send(quote, counter)
    quoting.agree(way=ways[0], signed=Signed(counter, NOW), how="by phone")
    quote.refresh_from_db()
    assert quote.state == Quote.State.SENT
    quoting.decline_quote(quote=quote, reason="sells the other board", signed=Signed(counter, NOW))
    quote.refresh_from_db()
    assert (quote.state, quote.decline_reason) == ("agreed", "sells the other board")


def test_a_new_version_has_the_same_number_and_todays_prices(sent, counter):
    PackPrice.objects.filter(pack__material__key="cloth-6oz").update(price=Decimal("9000"))
    new = quoting.replace_quote(quote=sent, signed=Signed(counter, NOW))
    sent.refresh_from_db()
    assert (sent.state, new.state, new.number, new.version) == ("replaced", "draft", sent.number, 2)
    old_ways, new_ways = sent.boards.get().ways.all(), new.boards.get().ways.all()
    assert [w.title for w in old_ways] == [w.title for w in new_ways]
    assert new_ways[1].gross > old_ways[1].gross
    send(new, counter)
    assert NumberSeries.objects.get(key="quote").next_number == 2
    assert new.boards.get().ways.count() == 2
    assert "agree" in str(refusal(lambda: quoting.agree(way=old_ways[0], signed=Signed(counter, NOW), how="by phone")))


def test_an_agreed_quote_is_not_replaced(sent, counter):
    quoting.agree(way=sent.boards.get().ways.first(), signed=Signed(counter, NOW), how="by phone")
    sent.refresh_from_db()
    assert "was sent can be replaced" in str(
        refusal(lambda: quoting.replace_quote(quote=sent, signed=Signed(counter, NOW)))
    )
