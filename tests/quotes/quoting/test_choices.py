"""A way with several repairs is one board: what each comes to, what the customer may leave, and a yes to a choice."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape
from itertools import combinations

import pytest
from django.urls import reverse

from inventory.models import PackPrice
from quotes import bench, quoting
from quotes.bench.job.acceptance import steps_of
from quotes.estimating import shop_inputs
from quotes.models import Step, Way, WayPart
from quotes.papers import quote as quote_paper
from quotes.papers.quote import choice_words
from quotes.quoting.repricing import quote_moves
from quotes.totals import deposit_of
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.conftest import refusal

SMALL = {"length": "50", "depth": "8"}
DINGS = {
    "ding-nose-small": {**SMALL, "around": "30"},
    "ding-deck-small": {**SMALL, "width": "30"},
    "ding-tail-small": {**SMALL, "around": "35"},
}
PLUG = {"hole_diameter": "28", "hole_depth": "18"}


def way_of(takein, versions, by, keys, *, optional=(), **more):
    """A way of these dings on a quote of its own."""
    quote = quoting.start_quote(takeins=[takein], signed=Signed(by, NOW))
    first, *others = keys
    way = quoting.add_way(
        board=quote.boards.get(), version=versions[first], measures=DINGS[first], signed=Signed(by, NOW), **more
    )
    for key in others:
        quoting.add_part(way=way, version=versions[key], measures=DINGS[key], signed=Signed(by, NOW))
    for part in way.parts.select_related("recipe_version__recipe"):
        if part.recipe_version.recipe.key in optional:
            quoting.leave_to_customer(part=part, optional=True, signed=Signed(by, NOW))
    return Way.objects.get(pk=way.pk)


def key_of(part: WayPart) -> str:
    return part.recipe_version.recipe.key


@pytest.fixture
def three(takein, versions, counter):
    """Three dings, all of them to choose from."""
    return way_of(takein, versions, counter, list(DINGS), optional=list(DINGS))


def send(way, by):
    return quoting.send_quote(quote=way.board.quote, signed=Signed(by, NOW))


def test_a_way_of_three_dings_is_one_job_and_each_has_its_price(takein, versions, counter):
    way = way_of(takein, versions, counter, list(DINGS))
    alone = [way_of(takein, versions, counter, [key]) for key in DINGS]
    assert way.gross < sum(one.gross for one in alone)
    told = way.totals["damages"]
    assert sum(Decimal(one["with_others"]) for one in told) == Decimal(way.totals["shown"])
    assert [one["alone"] for one in told] == [one.totals["shown"] for one in alone]
    assert all(Decimal(one["with_others"]) < Decimal(one["alone"]) for one in told)
    costs = [part.snapshot["cost_unrounded"] for part in way.parts.all()]
    assert way.cost == Decimal(str(sum(costs))).quantize(Decimal("0.01"))
    assert way.totals["choices"] == []


def test_a_title_and_words_follow_the_repairs_until_somebody_writes_their_own(takein, versions, counter):
    way = way_of(takein, versions, counter, ["ding-nose-small"])
    assert way.title == "Open ding on the nose, small"
    plug = {"version": versions["leash-plug"], "measures": PLUG, "signed": Signed(counter, NOW)}
    quoting.add_part(way=way, **plug)
    assert way.title == "Open ding on the nose, leash plug"
    assert way.words.splitlines() == [versions[key].body["about"] for key in ("ding-nose-small", "leash-plug")]
    quoting.add_part(way=way, **plug)
    assert way.title == "Open ding on the nose, leash plug × 2"
    quoting.edit_way(way=way, title="The nose and plugs", words="As told.", signed=Signed(counter, NOW))
    quoting.remove_part(part=way.parts.last(), signed=Signed(counter, NOW))
    assert (Way.objects.get().title, Way.objects.get().words) == ("The nose and plugs", "As told.")


def test_a_title_of_many_repairs_fits_its_box(takein, versions, counter):
    way = way_of(takein, versions, counter, list(DINGS))
    for key, measures in (("ding-rail-small", DINGS["ding-nose-small"]), ("ding-bottom-small", DINGS["ding-deck-small"]),
                          ("leash-plug", PLUG)):  # fmt: skip
        quoting.add_part(way=way, version=versions[key], measures=measures, signed=Signed(counter, NOW))
    assert len(way.title) <= 120
    assert way.title.endswith(", and more")


def test_a_rush_is_worked_alone_and_the_way_says_how_many_boards_it_reckons_with(takein, versions, counter):
    way = way_of(takein, versions, counter, ["ding-nose-small"])
    assert way.totals["boards"] == {"resin": 3, "sanding": 2, "spraying": 2}
    assert Decimal(way.totals["worked_alone"]) > Decimal(way.totals["shown"])
    quote = way.board.quote
    quoting.edit_quote(quote=quote, note="", rush_percent=Decimal("0.01"), signed=Signed(counter, NOW))
    rush = Way.objects.get()
    assert set(rush.totals["boards"].values()) == {1}
    assert rush.cost > way.cost
    assert rush.totals["worked_alone"] is None


def test_a_draft_that_moves_moves_as_one_board(takein, versions, counter):
    way = way_of(takein, versions, counter, list(DINGS))
    [move] = quote_moves(inputs=shop_inputs(day=TODAY))
    assert not move.moved
    pack = PackPrice.objects.get(pack__material__key="resin-lam")
    PackPrice.objects.create(pack=pack.pack, price=pack.price * 20, from_day=TODAY)
    [move] = quote_moves(inputs=shop_inputs(day=TODAY))
    quoting.recompute(quote=way.board.quote, signed=Signed(counter, NOW))
    assert move.ways[0].new == Way.objects.get().gross > way.gross


@pytest.mark.parametrize("chosen", [pick for n in (1, 2, 3) for pick in combinations(DINGS, n)])
def test_the_price_of_a_choice_is_that_of_a_way_made_of_just_these(three, takein, versions, counter, stocked, chosen):
    just_these = way_of(takein, versions, counter, list(chosen))
    sent = send(three, counter)
    parts = {key_of(part): part.pk for part in three.parts.select_related("recipe_version__recipe")}
    keys = [parts[key] for key in chosen]
    said = next(one for one in three.totals["choices"] if one["parts"] == keys)
    assert said["document"] == just_these.totals["document"]
    frozen = bytes(sent.document.pdf), sent.document.content
    job = bench.accept_way(way=three, signed=Signed(counter, NOW), how="by phone", wanted=keys)
    way = Way.objects.get(pk=three.pk)
    assert (way.net, way.tax, way.gross, way.cost) == (
        just_these.net, just_these.tax, just_these.gross, just_these.cost,
    )  # fmt: skip
    assert way.totals["document"] == said["document"]
    assert [key_of(part) for part in way.parts.all()] == list(chosen)
    told = [_told(step) for step in Step.with_sundries.filter(job=job).order_by("position")]
    assert told == [_told(step) for step in steps_of(just_these)]
    assert bench.charges(job).totals().gross == just_these.gross
    sent.document.refresh_from_db()
    assert (bytes(sent.document.pdf), sent.document.content) == frozen


def _told(step: Step) -> dict:
    """The plan of a step without the keys of the repairs it serves, which are each way's own."""
    return {**step.plan, "serves": [{**one, "part": None} for one in step.plan.get("serves", ())]}


def test_a_yes_without_a_word_is_a_yes_to_all(three, counter, stocked):
    send(three, counter)
    job = bench.accept_way(way=three, signed=Signed(counter, NOW), how="by phone")
    assert job.way.parts.count() == 3
    assert job.way.gross == three.gross


def test_the_price_that_was_said_stands_though_prices_moved_since(three, counter, stocked):
    send(three, counter)
    two = three.totals["choices"][3]
    for pack in PackPrice.objects.all():
        pack.price *= 20
        pack.save()
    job = bench.accept_way(way=three, signed=Signed(counter, NOW), how="by phone", wanted=two["parts"])
    way = Way.objects.get(pk=job.way_id)
    assert way.totals["document"] == two["document"]
    assert way.cost > three.cost
    assert way.totals["margin"]["trail"][0]["words"] == "as the quote said"


def test_what_can_be_worked_out_no_more_is_done_as_it_was_priced(three, counter, stocked):
    send(three, counter)
    two = three.totals["choices"][3]
    PackPrice.objects.all().delete()
    bench.accept_way(way=three, signed=Signed(counter, NOW), how="by phone", wanted=two["parts"])
    way = Way.objects.get(pk=three.pk)
    assert way.totals["document"] == two["document"]
    assert way.problems == []


def test_a_bad_choice_is_a_sentence_and_nothing_is_agreed(takein, versions, counter):
    way = way_of(takein, versions, counter, list(DINGS), optional=["ding-tail-small"])
    send(way, counter)
    fixed = way.parts.first().pk
    said = refusal(lambda: quoting.agree(way=way, signed=Signed(counter, NOW), how="by phone", wanted=[fixed]))
    assert "not one to choose" in said["wanted"][0]
    way.refresh_from_db()
    assert way.agreed_at is None
    agreed = quoting.agree(way=way, signed=Signed(counter, NOW), how="by phone", wanted=[])
    assert agreed.parts.count() == 2


def test_no_repair_at_all_is_no_choice(three, counter):
    send(three, counter)
    said = refusal(lambda: quoting.agree(way=three, signed=Signed(counter, NOW), how="by phone", wanted=[]))
    assert "tick at least one repair" in said["wanted"][0]
    assert three.parts.count() == 3


def test_only_a_way_with_another_repair_has_something_to_choose(takein, versions, counter):
    way = way_of(takein, versions, counter, ["ding-nose-small"])
    part = way.parts.get()
    said = refusal(lambda: quoting.leave_to_customer(part=part, optional=True, signed=Signed(counter, NOW)))
    assert "nothing to choose" in said["__all__"][0]


def test_a_seventh_optional_repair_is_refused(takein, versions, counter):
    way = way_of(takein, versions, counter, ["ding-nose-small"])
    ding = {
        "version": versions["ding-nose-small"],
        "measures": DINGS["ding-nose-small"],
        "signed": Signed(counter, NOW),
    }
    for _ in range(6):
        quoting.add_part(way=way, optional=True, **ding)
    assert len(Way.objects.get().totals["choices"]) == 64
    assert "At most 6" in refusal(lambda: quoting.add_part(way=way, optional=True, **ding))["__all__"][0]


def test_under_a_price_by_hand_every_choice_goes_down_by_as_much(three, counter, stocked):
    before = {tuple(one["parts"]): Decimal(one["shown"]) for one in three.totals["choices"]}
    half = Decimal(three.totals["shown"]) / 2
    quoting.edit_way(way=three, title="Dings", price_by_hand=half, price_reason="a friend", below_cost=True,
                     signed=Signed(counter, NOW))  # fmt: skip
    way = Way.objects.get()
    after = {tuple(one["parts"]): Decimal(one["shown"]) for one in way.totals["choices"]}
    assert after == {keys: (shown / 2).quantize(Decimal("0.01")) for keys, shown in before.items()}
    assert sum(Decimal(one["with_others"]) for one in way.totals["damages"]) == half
    send(way, counter)
    two = way.totals["choices"][4]
    job = bench.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", wanted=two["parts"])
    way = Way.objects.get()
    assert way.totals["shown"] == two["shown"]
    assert bench.charges(job).totals().lines_total == Decimal(two["shown"])
    assert way.title == "Dings, without open ding on the deck"


def test_lines_by_hand_come_on_top_of_every_choice(three, counter):
    before = [Decimal(one["shown"]) for one in three.totals["choices"]]
    quoting.add_line(way=three, words="Courier", price=Decimal(20), signed=Signed(counter, NOW))
    way = Way.objects.get()
    assert [Decimal(one["shown"]) for one in way.totals["choices"]] == [shown + 20 for shown in before]


def test_a_new_version_keeps_what_may_be_left(three, counter):
    new = quoting.replace_quote(quote=send(three, counter), signed=Signed(counter, NOW))
    way = Way.objects.get(board__quote=new)
    assert [part.optional for part in way.parts.all()] == [True] * 3
    assert len(way.totals["choices"]) == 7


def page(client, name, *args) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return (
        " ".join(re.sub("<[^>]+>", " ", unescape(answer.content.decode())).split())
        .replace(" ,", ",")
        .replace(" :", ":")
    )


def test_the_pages_say_what_each_comes_to_and_what_each_choice_comes_to(three, counter, counter_client):
    told = three.totals["damages"]
    asked = deposit_of(three.gross, Profile.objects.get().deposit_percent)
    for name in ("quote", "quote-customer"):
        said = page(counter_client, name, three.board.quote_id)
        for one in told:
            with_others, alone = (f"€{Decimal(one[key]):.2f}" for key in ("with_others", "alone"))
            assert f"{one['name']} {alone} if it were alone {with_others}" in said
        for choice in three.totals["choices"]:
            assert f"€{Decimal(choice['shown']):.2f}" in said
        deposit = f"deposit €{asked:.2f} " if name == "quote-customer" else ""
        assert f"All three {deposit}€{three.gross:.2f}" in said
        assert "Without open ding on the tail " in said
        assert "Only open ding on the deck " in said
    shop_only = page(counter_client, "quote", three.board.quote_id)
    assert "With 3 boards in a session with resin, 2 sanded and 2 sprayed together" in shop_only
    assert "session with resin" not in page(counter_client, "quote-customer", three.board.quote_id)
    why = page(counter_client, "way-why", three.pk)
    assert f"the work would come to €{Decimal(three.totals['worked_alone']):.2f}" in why


def test_what_moves_the_price_says_of_which_repair_it_is(three, counter_client):
    sure = page(counter_client, "way-sure", three.pk)
    moves = sure.split("What moves this price")[1]
    for name in ("open ding on the nose", "open ding on the deck", "open ding on the tail"):
        assert f", {name} " in moves
    assert "The price is that of the one repair by itself." in moves


def test_the_shop_marks_what_the_customer_may_leave(takein, versions, counter, counter_client, form_key):
    way = way_of(takein, versions, counter, list(DINGS))
    part = way.parts.last()
    assert "The customer may leave it: Open ding on the tail, small" in page(counter_client, "way-edit", way.pk)
    tapped = {"optional": "yes", "submission_key": form_key()}
    answer = counter_client.post(reverse("part-optional", args=[part.pk]), tapped)
    assert answer["Location"] == reverse("way-edit", args=[way.pk])
    part.refresh_from_db()
    assert part.optional
    assert "Do it in any case: Open ding on the tail, small" in page(counter_client, "way-edit", way.pk)
    counter_client.post(reverse("part-optional", args=[part.pk]), {"optional": "no", "submission_key": form_key()})
    part.refresh_from_db()
    assert not part.optional


def test_what_has_nothing_to_choose_is_said_on_the_ways_page(takein, versions, counter, counter_client, form_key):
    part = way_of(takein, versions, counter, ["ding-nose-small"]).parts.get()
    tapped = {"optional": "yes", "submission_key": form_key()}
    answer = counter_client.post(reverse("part-optional", args=[part.pk]), tapped)
    assert answer.status_code == 422
    assert "nothing to choose from" in answer.content.decode()


def test_the_yes_asks_which_and_begins_with_all(three, counter, counter_client, form_key, stocked):
    send(three, counter)
    parts = [part.pk for part in three.parts.all()]
    asked = counter_client.get(reverse("way-agree", args=[three.pk])).content.decode()
    for pk in parts:
        assert re.search(rf'<input[^>]*name="repair_{pk}"[^>]*checked', asked)
    assert f"All three €{three.gross:.2f}" in page(counter_client, "way-agree", three.pk)
    url, told = reverse("way-agree", args=[three.pk]), {"how": "by phone", "submission_key": form_key()}
    answer = counter_client.post(url, told)
    assert answer.status_code == 422
    assert "Nothing is chosen: tick at least one repair" in answer.content.decode()
    told |= {f"repair_{pk}": "on" for pk in parts[:2]} | {"submission_key": form_key()}
    assert counter_client.post(url, told).status_code == 302
    way = Way.objects.get(pk=three.pk)
    assert way.title == "Open ding on the nose, open ding on the deck"
    assert way.totals["shown"] == next(c["shown"] for c in three.totals["choices"] if c["parts"] == parts[:2])
    after = page(counter_client, "quote", three.board.quote_id)
    assert "The customer left out: Open ding on the tail" in after
    assert "Without" not in after
    assert "Without open ding on the tail" in page(counter_client, "quote-customer", three.board.quote_id)


def test_of_many_to_choose_from_the_page_says_the_whole_what_each_makes_less_and_the_least(
    takein, versions, counter, counter_client
):
    keys = [*DINGS, "ding-rail-small", "ding-bottom-small"]
    measures = {**DINGS, "ding-rail-small": DINGS["ding-nose-small"], "ding-bottom-small": DINGS["ding-deck-small"]}
    way = way_of(takein, versions, counter, ["ding-nose-small"])
    for key in keys[1:]:
        quoting.add_part(
            way=way, version=versions[key], measures=measures[key], optional=True, signed=Signed(counter, NOW)
        )
    said = page(counter_client, "quote", way.board.quote_id)
    assert "All 5 €" in said
    assert said.count("Without open ding") == 4
    assert said.count("Only open ding on the nose €") == 1
    assert "Every other choice has its price too" in said


@pytest.mark.papers
def test_three_dings_to_choose_from_are_one_page(three, counter, run):
    sent = quoting.send_quote(quote=three.board.quote, signed=Signed(counter, NOW))
    pdf = bytes(sent.document.pdf)
    assert re.search(r"Pages:\s+1\n", run(pdf, "pdfinfo"))
    said = " ".join(run(pdf, "pdftotext", "-layout").split())
    [way] = sent.document.content["boards"][0]["ways"]
    deposits = {one["shown"]: f"{Decimal(one['deposit']):.2f}" for one in way["choices"]}
    assert "Tick your choice, way 1" in said
    assert "I agree on this way" not in said, "one tick for one choice"
    assert "Work that the repairs share is counted once" in said
    for choice in three.totals["choices"]:
        names = [one["name"] for one in three.totals["damages"]]
        order = [one["part"] for one in three.totals["damages"]]
        words = choice_words(names, [order.index(key) for key in choice["parts"]])
        assert f"{words} €{Decimal(choice['shown']):.2f}, deposit €{deposits[choice['shown']]}" in said
    for one in three.totals["damages"]:
        row = f"{one['name']} {Decimal(one['with_others']):.2f} {Decimal(one['alone']):.2f}"
        assert row in said
    assert f"Together {three.gross:.2f}" in said
    assert "Way 1, all three" in said


@pytest.mark.papers
def test_without_tax_in_its_prices_each_choice_says_what_it_is_in_all(three, counter, run):
    Profile.objects.update(prices_include_tax=False)
    quoting.recompute(quote=three.board.quote, signed=Signed(counter, NOW))
    said = " ".join(
        run(quote_paper.pdf(quoting.content_of(three.board.quote, on=TODAY)), "pdftotext", "-layout").split()
    )
    for choice in Way.objects.get().totals["choices"]:
        assert f"€{Decimal(choice['shown']):.2f} in all €{Decimal(choice['document']['gross']):.2f}" in said


def test_content_frozen_before_repairs_had_prices_is_still_read(three):
    content = quoting.content_of(three.board.quote, on=TODAY)
    [way] = content["boards"][0]["ways"]
    del way["repairs"], way["choices"]
    [board] = quote_paper.context(content)["boards"]
    assert (board.ways[0].repairs, board.ways[0].choices) == ([], [])
    assert board.tax_rows[0]["of"] == "Way 1"


def test_nothing_of_the_shops_own_is_among_the_choices(three):
    [way] = quoting.content_of(three.board.quote, on=TODAY)["boards"][0]["ways"]
    told = {"wanted", "shown", "net", "tax", "gross", "tax_rows", "deposit"}
    assert {key for one in way["choices"] for key in one} == told
    assert {key for one in way["repairs"] for key in one} == {"number", "name", "optional", "with_others", "alone"}


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ([0, 1, 2], "All three"),
        ([0, 1], "Without EPS plug"),
        ([2], "Only EPS plug"),
        ([0], "Only nose"),
    ],
)
def test_a_choice_in_words(wanted, words):
    assert choice_words(["Nose", "Tail", "EPS plug"], wanted) == words
