"""What a shop knows of its own work: typed, looked at, kept in one act, taken back."""

from __future__ import annotations

import re

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext

from quotes.costing import CALIBRATED, CONSTANTS, boards_together, estimate
from quotes.estimating import shop_inputs
from quotes.models import Recipe
from quotes.pricelist import COLUMNS, load_starting_rows, other_jobs, price_list, usual_jobs
from quotes.recipes import load_starting_recipes, on_reference
from quotes.recipes.own_figures import is_calibrated, leave_calibration, set_calibration, set_figure
from shop.models import JournalEntry, Profile
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY
from tests.quotes.bench.test_bench_pages import post, summary
from tests.quotes.conftest import with_stock
from tests.reading import says

BEGINS = {"stocked": with_stock}
pytestmark = pytest.mark.usefixtures("standing")

PAGE = "/own-work/"
PLUG, DING, BOX, SNAP = "leash-plug", "ding-deck-small", "fin-box", "snap"


@pytest.fixture
def stocked(versions, profile):
    load_starting_rows()
    return versions


def usual_minutes() -> dict[str, float]:
    """What the usual jobs take by the trade, by key."""
    inputs = shop_inputs(day=TODAY)
    return {
        one.key: estimate(one.recipe, one.measures, inputs.shop, board=COLUMNS[0].board).minutes
        for one in usual_jobs(inputs)
    }


def typed(times: float, *keys: str) -> dict[str, str]:
    trade = usual_minutes()
    return {"built": "pu", **{f"minutes_{key}": f"{trade[key] * times:.0f}" for key in keys}}


def kept_form(answer) -> dict[str, str]:
    """The entries of the form that keeps what is shown."""
    part = says(answer).split('id="found"')[1].split("</section>")[0]
    found = dict(re.findall(r'<input type="hidden" name="([a-z_-]+)" value="([^"]*)"', part))
    return {name: text for name, text in found.items() if name not in ("csrfmiddlewaretoken", "submission_key")}


def test_every_usual_job_is_one_of_this_shops_and_the_others_are_its_price_list(stocked):
    inputs = shop_inputs(day=TODAY)
    jobs = usual_jobs(inputs)
    assert [one.key for one in jobs][:2] == [PLUG, DING]
    assert len(jobs) == 7
    assert {one.key for one in jobs} <= set(usual_minutes())
    others = other_jobs(inputs, but=jobs[:3])
    assert len(others) == len(price_list(day=TODAY).lines) - 3
    Recipe.objects.filter(key=SNAP).update(retired_at=NOW)
    assert len(usual_jobs(inputs)) == 6


def test_it_is_shown_before_it_is_kept_and_then_prices_follow(stocked, keeper_client, form_key):
    answer = post(keeper_client, form_key, PAGE, **typed(1.4, PLUG, DING, BOX, SNAP))
    assert answer.status_code == 200
    page = says(answer)
    assert "What comes out" in page
    assert "longer than the trade’s figures say" in page
    assert Profile.objects.get().constants == {}, "nothing is kept before one says so"
    rows = answer.context["found"]["rows"] + answer.context["found"]["others"]
    assert len(rows) == len(price_list(day=TODAY).lines)
    assert all(row["price"] >= row["today"] for row in rows)
    shown = {row["job"].name: row["price"] for row in rows}

    kept = post(keeper_client, form_key, f"{PAGE}?from=/", **kept_form(answer), keep="1")
    assert kept.status_code == 302
    assert kept.url == "/", "back to where one was"
    own = Profile.objects.get().constants
    assert set(own) == CALIBRATED
    assert 1.1 < own["minutes_factor"][0] < 1.4
    [entry] = JournalEntry.objects.filter(verb="own_work.set")
    assert entry.words.startswith(f"Own work: {own['minutes_factor'][0]:g} × the trade’s minutes, ")
    wall = {f"{line.row}": line.cells[0].price for line in price_list(day=TODAY).lines}
    assert {name: wall[name] for name in shown} == shown, "the price list says what was shown"
    assert "You work by figures of your own" in says(keeper_client.get(PAGE))


def test_prices_do_as_well_and_a_shop_that_charges_what_comes_out_is_left_where_it_is(stocked, keeper_client, form_key):
    lines = {line.row.recipe.key: line.cells[0].price for line in reversed(price_list(day=TODAY).lines)}
    prices = {f"price_{key}": str(lines[key]) for key in (PLUG, BOX, SNAP)}
    answer = post(keeper_client, form_key, PAGE, built="pu", **prices)
    assert answer.status_code == 200
    found = answer.context["found"]
    assert 0.9 < found["speed"][0] < 1.1
    assert found["boards"][2] <= 6, "no more boards than the trade's range holds"
    assert [row["job"].typed_price for row in found["rows"]] == [float(text) for text in prices.values()]


def test_it_is_taken_back_in_one_act_and_figures_set_by_hand_stay(stocked, keeper, keeper_client, form_key):
    set_figure(name="cup_loss_g", value=12.0, low=6.0, high=25.0, signed=Signed(keeper, NOW))
    before = on_reference(stocked[BOX].body, {}, shop_inputs(day=TODAY)).cost_unrounded
    answer = post(keeper_client, form_key, PAGE, **typed(1.5, PLUG, BOX, SNAP))
    post(keeper_client, form_key, PAGE, **kept_form(answer), keep="1")
    assert is_calibrated(Profile.objects.get())
    assert on_reference(stocked[BOX].body, {}, shop_inputs(day=TODAY)).cost_unrounded > before
    assert post(keeper_client, form_key, f"{PAGE}trade/").status_code == 302
    assert Profile.objects.get().constants == {"cup_loss_g": [12.0, 6.0, 25.0]}
    assert on_reference(stocked[BOX].body, {}, shop_inputs(day=TODAY)).cost_unrounded == before
    assert JournalEntry.objects.filter(verb="own_work.leave").count() == 1
    again = post(keeper_client, form_key, f"{PAGE}trade/")
    assert again.status_code == 422
    assert summary(again) == ["The shop follows the trade in its minutes and in boards together already."]


@pytest.mark.parametrize(
    ("entries", "says_so", "box"),
    [
        ({"minutes_leash-plug": "50", "minutes_fin-box": "150"}, "2 is too few", ""),
        ({}, "0 is too few", ""),
        ({"minutes_leash-plug": "a while"}, "Leash plug, one: minutes must be a time", "minutes_leash-plug"),
        ({"price_leash-plug": "-40"}, "Leash plug, one: price must not be below zero", "price_leash-plug"),
        ({"minutes_leash-plug": "0"}, "Leash plug, one: minutes must be above zero", "minutes_leash-plug"),
        (
            {"minutes_leash-plug": "50", "price_leash-plug": "60", "minutes_fin-box": "150", "minutes_snap": "240"},
            "Leash plug, one: say either its minutes or its price.",
            "price_leash-plug",
        ),
        (
            {"price_snap": "1", "minutes_leash-plug": "50", "minutes_fin-box": "150"},
            "does not pay for what it uses up",
            "price_snap",
        ),
        ({"built": "wood", "minutes_leash-plug": "50"}, "pick one of those offered", "built"),
    ],
)
def test_what_nothing_comes_out_of_gets_a_sentence_and_stays_in_its_box(
    entries, says_so, box, stocked, keeper_client, form_key
):
    answer = post(keeper_client, form_key, PAGE, **{"built": "pu", **entries})
    assert answer.status_code == 422
    assert any(says_so in sentence for sentence in summary(answer)), summary(answer)
    assert "Nothing comes out yet" in says(answer)
    form = answer.context["form"]
    assert not box or form.errors[box]
    for name, text in entries.items():
        assert str(form[name].value()) == text
    assert Profile.objects.get().constants == {}


def test_a_job_that_fits_nothing_else_is_asked_about_once(stocked, keeper_client, form_key):
    entries = {**typed(1.0, PLUG, DING, BOX, SNAP), "minutes_snap": "12"}
    answer = post(keeper_client, form_key, PAGE, **entries)
    assert answer.status_code == 422
    [sentence] = summary(answer)
    assert sentence.startswith("Snapped in two, shortboard: 12 min does not fit the rest of what you say, which makes")
    sure = post(keeper_client, form_key, PAGE, **entries, odd_minutes_snap="on")
    assert sure.status_code == 200
    kept = post(keeper_client, form_key, PAGE, **kept_form(sure), keep="1")
    assert kept.status_code == 302, "the tick goes along"


def test_only_what_was_shown_is_kept(stocked, keeper_client, form_key):
    answer = post(keeper_client, form_key, PAGE, **typed(1.4, PLUG, BOX, SNAP))
    entries = {**kept_form(answer), "minutes_snap": "900"}
    refused = post(keeper_client, form_key, PAGE, **entries, odd_minutes_snap="on", keep="1")
    assert refused.status_code == 422
    assert summary(refused) == ["What comes out is not what was shown: look at it once more, then keep it."]
    assert Profile.objects.get().constants == {}


def test_what_comes_out_is_read_in_as_many_queries_for_seven_jobs_as_for_three(stocked, keeper_client, form_key):
    queries = []
    for keys in ((PLUG, BOX, SNAP), tuple(usual_minutes())):
        entries = typed(1.2, *keys)
        with CaptureQueriesContext(connection) as found:
            assert post(keeper_client, form_key, PAGE, **entries).status_code == 200
        queries.append(len(found))
    assert queries[0] == queries[1]


def test_without_prices_the_page_says_what_is_missing(profile, keeper_client, form_key):
    load_starting_recipes(at=NOW)
    answer = post(keeper_client, form_key, PAGE, built="pu", minutes_snap="240",
                  **{"minutes_leash-plug": "50", "minutes_fin-box": "150"})  # fmt: skip
    assert answer.status_code == 422
    assert "Leash plug, one: " in summary(answer)[0]


def test_only_the_keeper_keeps_it_and_only_the_figures_it_is_about(profile, counter, keeper):
    figures = {name: (CONSTANTS[name].value, CONSTANTS[name].low, CONSTANTS[name].high) for name in CALIBRATED}
    with pytest.raises(PermissionDenied):
        set_calibration(figures=figures, signed=Signed(counter, NOW))
    with pytest.raises(PermissionDenied):
        leave_calibration(signed=Signed(counter, NOW))
    with pytest.raises(Refused):
        set_calibration(figures={**figures, "cup_loss_g": (1.0, 1.0, 1.0)}, signed=Signed(keeper, NOW))
    with pytest.raises(Refused, match="low ≤ value ≤ high"):
        set_calibration(figures={**figures, "minutes_factor": (1.0, 2.0, 3.0)}, signed=Signed(keeper, NOW))
    assert Profile.objects.get().constants == {}


def test_pages_of_prices_say_how_many_boards_are_worked_together(stocked, keeper, keeper_client, form_key):
    figures = {name: (CONSTANTS[name].value, CONSTANTS[name].low, CONSTANTS[name].high) for name in CALIBRATED}
    set_calibration(figures={**figures, "boards_in_a_resin_session": (2.14, 1.0, 4.0)}, signed=Signed(keeper, NOW))
    assert boards_together(shop_inputs(day=TODAY).shop)["resin"] == 2.14
    page = says(keeper_client.get("/price-list/"))
    assert "With 2.1 boards in a session with resin, 2 sanded and 2 sprayed together" in page
    assert "A rush is worked alone." in page
    assert "boards in a session" not in says(keeper_client.get("/price-list/web/"))


def test_the_empty_rack_offers_it_to_a_new_keeper_until_it_is_kept(profile, keeper, keeper_client, counter_client):
    assert "What do you know of your own work?" in says(keeper_client.get("/"))
    assert 'href="/own-work/?from=/"' in says(keeper_client.get("/"))
    assert "Not now: back to where you were" in says(keeper_client.get("/own-work/?from=/"))
    assert "What do you know of your own work?" not in says(counter_client.get("/"))
    figures = {name: (CONSTANTS[name].value, CONSTANTS[name].low, CONSTANTS[name].high) for name in CALIBRATED}
    set_calibration(figures=figures, signed=Signed(keeper, NOW))
    assert "What do you know of your own work?" not in says(keeper_client.get("/"))
