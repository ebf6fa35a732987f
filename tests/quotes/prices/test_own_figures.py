"""The shop's own figures: set by the keeper, read by the next price, and given back to the trade."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied

from quotes.costing import CONSTANTS
from quotes.estimating import shop_inputs
from quotes.recipes import on_reference
from quotes.recipes.own_figures import figures_of, leave_figure, set_figure
from shop.models import JournalEntry, Profile
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW
from tests.quotes.bench.test_bench_pages import post, summary
from tests.reading import says

DAY = NOW.date()


def price_of(version):
    return on_reference(version.body, version.recipe.reference, shop_inputs(day=DAY)).cost_unrounded


def test_every_figure_without_a_publication_is_the_shops_to_set(profile):
    names = {row.constant.name for row in figures_of(profile)}
    unsourced = {name for name, one in CONSTANTS.items() if one.kind in ("practice", "memory")}
    assert unsourced <= names
    assert len(unsourced) > 200
    assert "p120_micron" not in names


def test_an_own_figure_moves_the_next_price_and_the_trades_brings_it_back(versions, keeper):
    version = versions["fin-box"]
    before = price_of(version)
    set_figure(name="cup_loss_g", value=25.0, low=10.0, high=30.0, signed=Signed(keeper, NOW))
    assert price_of(version) > before
    assert Profile.objects.get().constants == {"cup_loss_g": [25.0, 10.0, 30.0]}
    leave_figure(name="cup_loss_g", signed=Signed(keeper, NOW))
    assert price_of(version) == before
    assert JournalEntry.objects.filter(verb__in=["figure.set", "figure.leave"]).count() == 2


@pytest.mark.parametrize(
    ("name", "ends", "says"),
    [
        ("cup_loss_g", (10.0, 12.0, 25.0), "low ≤ value ≤ high"),
        ("minutes_factor", (0.0, 0.0, 1.0), "above zero"),
        ("p120_micron", (125.0, 120.0, 130.0), "not a shop setting"),
        ("no_such_thing", (1.0, 1.0, 1.0), "no figure called no_such_thing"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_in_a_sentence(name, ends, says, profile, keeper):
    value, low, high = ends
    with pytest.raises(Refused) as refused:
        set_figure(name=name, value=value, low=low, high=high, signed=Signed(keeper, NOW))
    assert says in str(refused.value)
    assert Profile.objects.get().constants == {}


def test_only_the_keeper_sets_figures(profile, counter):
    with pytest.raises(PermissionDenied):
        set_figure(name="cup_loss_g", value=12.0, low=6.0, high=25.0, signed=Signed(counter, NOW))


def test_the_page_finds_a_figure_keeps_it_and_refuses_a_wrong_order_beside_its_box(keeper_client, profile, form_key):
    page = says(keeper_client.get("/figures/?q=cup"))
    assert "What one mix leaves in cup, stick and brush" in page
    assert "wax in styrene" not in page
    wrong = post(keeper_client, form_key, "/figures/cup_loss_g/", value="12", low="15", high="25")
    assert wrong.status_code == 422
    assert summary(wrong) == ["Low is 15, above the usual 12; it must be 12 or less."]
    wrong = post(keeper_client, form_key, "/figures/cup_loss_g/", value="a dozen", low="5", high="25")
    assert "must be a number" in summary(wrong)[0]
    assert post(keeper_client, form_key, "/figures/cup_loss_g/", value="12,5", low="5", high="25").status_code == 302
    assert Profile.objects.get().constants["cup_loss_g"] == [12.5, 5.0, 25.0]
    assert "the trade says 10 g" in says(keeper_client.get("/figures/"))
    assert post(keeper_client, form_key, "/figures/cup_loss_g/trade/").status_code == 302
    assert Profile.objects.get().constants == {}
    assert post(keeper_client, form_key, "/figures/cup_loss_g/trade/").status_code == 422


def test_the_page_of_figures_takes_few_queries(keeper_client, profile, django_assert_max_num_queries):
    with django_assert_max_num_queries(8):
        assert keeper_client.get("/figures/").status_code == 200


def test_weight_that_would_be_felt_is_said_by_the_shops_own_figure(profile, keeper):
    from quotes.papers.quote import weight_words
    from quotes.quoting.content import felt

    assert not felt(150.0, profile)
    assert felt(151.0, profile)
    set_figure(name="felt_weight_g", value=200.0, low=100.0, high=300.0, signed=Signed(keeper, NOW))
    assert not felt(151.0, Profile.objects.get())
    assert weight_words(210.4, felt=True) == "Board gains about 210 g, enough to be felt"
    assert weight_words(-40.0) == "Board loses about 40 g"
