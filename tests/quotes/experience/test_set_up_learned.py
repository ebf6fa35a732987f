"""What the shop's own jobs taught of setting up is not laid on work by size: in a price, on a page, in old quotes."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from quotes import experience
from quotes.costing import CONSTANTS, Construction
from quotes.costing.job.reestimate import Knowledge, reestimate
from quotes.costing.snapshot import SnapshotLine
from quotes.estimating import estimate, taught
from quotes.models import Experience, WayPart
from quotes.recipes.own_figures import set_figure
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.past import DING, finished_jobs, shop_of_a_year

SLOW = 1.75  # times what the trade takes to set up; all else takes what the trade says
DECK = {"board_length": Decimal(1880), "board_width": Decimal(480)}
PU = Construction("pu", "polyester")


def slow_shop() -> dict:
    """Dings, mended by a shop slow at setting up."""
    made = shop_of_a_year()
    told = made["versions"]["ding-deck-medium"], made["keeper"]
    return {**made, "slow": finished_jobs(*told, 12, minutes=1.0, set_up=SLOW, spread=0.05)}


BEGINS = {"slow": slow_shop, "recipes": shop_of_a_year}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def recipes(versions):
    return versions


@pytest.fixture
def slow(begun):
    return begun("slow")


def labour(version, measures) -> list[SnapshotLine]:
    made = estimate(version=version, measures=measures, day=TODAY, board=PU)
    assert made.problems == []
    return [line for line in made.snapshot().lines if line.kind == "labour"]


def minutes(lines: list[SnapshotLine]) -> float:
    return sum(line.use for line in lines)


def truth(lines: list[SnapshotLine]) -> float:
    return sum(line.need + (SLOW - 1.0) * line.set_up for line in lines)


def test_a_gloss_coat_is_foretold_from_dings_of_a_shop_slow_at_setting_up(slow, recipes):
    gloss, ding = labour(recipes["re-gloss"], DECK), labour(recipes["ding-deck-medium"], DING)
    assert minutes(gloss) == pytest.approx(truth(gloss), rel=0.10)
    assert minutes(ding) == pytest.approx(truth(ding), rel=0.04)
    assert truth(ding) > 1.2 * sum(line.need for line in ding)
    assert truth(gloss) < 1.06 * sum(line.need for line in gloss)
    sanded = next(line for line in gloss if line.operation == "sand")
    assert sanded.factor.learned.logs == 12
    coated = next(line for line in gloss if line.operation == "gloss-coat")
    assert coated.factor.source == "learned from the shop's other figures"


def test_before_anything_is_learned_every_minute_is_the_trades(recipes):
    for line in labour(recipes["re-gloss"], DECK):
        assert line.use == line.need
        assert 0.0 <= line.set_up <= line.need


def test_what_is_shown_is_what_such_jobs_took(slow, recipes, keeper, client):
    coat = next(x for x in labour(recipes["ding-deck-medium"], DING) if x.operation == "hot-coat")
    shown = experience.own_figure("hot-coat", "minutes")
    took = 1.0 + (SLOW - 1.0) * coat.set_up / coat.need
    assert shown.own == pytest.approx(took, rel=0.05)
    assert shown.used == pytest.approx(took, rel=0.07)
    assert shown.trade.mid == 1.0
    client.force_login(keeper)
    page = client.get(reverse("operations")).content.decode()
    assert re.search(r"Setting up takes 1\.[3-9]\d times what it would by the trade", page)


def test_a_quote_of_before_is_said_afresh_with_its_own_set_ups(recipes, keeper):
    before = labour(recipes["re-gloss"], DECK)
    finished_jobs(recipes["ding-deck-medium"], keeper, 8, minutes=1.0, set_up=SLOW, spread=0.05)
    known = taught()
    now = Knowledge(learned=known["learned"], losses=known["losses"], bases=known["bases"])
    assert minutes(reestimate(before, now)) == pytest.approx(minutes(labour(recipes["re-gloss"], DECK)), rel=1e-9)


def test_own_figures_of_setting_up_take_the_place_of_what_was_learned_of_it(slow, recipes, keeper):
    before = minutes(labour(recipes["re-gloss"], DECK))
    assert Experience.objects.get().figures["cells"][0]["set_up"] == pytest.approx(SLOW, rel=0.15)
    for name, one in CONSTANTS.items():
        if name.endswith("_set_up_min"):
            set_figure(
                name=name, value=one.value * SLOW, low=one.low * SLOW, high=one.high * SLOW, signed=Signed(keeper, NOW)
            )
    assert experience.learn_by_own_figures(at=NOW)
    assert Experience.objects.get().figures["cells"][0]["set_up"] == pytest.approx(1.0, abs=0.03)
    after = labour(recipes["re-gloss"], DECK)
    assert minutes(after) == pytest.approx(before, rel=0.05)
    assert minutes(after) == pytest.approx(sum(line.need for line in after), rel=0.03)


def test_quotes_that_did_not_tell_set_ups_apart_are_worked_out_again_for_them(slow):
    def told() -> list[tuple[float, float]]:
        history = experience.gather(day=TODAY).history
        return [(term.need, term.set_up) for term in history.terms]

    before = told()
    assert any(set_up for _, set_up in before)
    for part in WayPart.objects.all():
        lines = [{key: value for key, value in line.items() if key != "set_up"} for line in part.snapshot["lines"]]
        part.snapshot = {**part.snapshot, "lines": lines}
        part.save()
    assert told() == [(pytest.approx(need), pytest.approx(set_up)) for need, set_up in before]
