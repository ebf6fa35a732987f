"""A figure the shop sets takes the place of what its jobs taught under the old one: it never counts twice."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

import pytest

from quotes import bench as b
from quotes import experience
from quotes import lookback as book
from quotes.bench.plan.reserving import reserve_job
from quotes.costing import CONSTANTS, Construction
from quotes.costing.learning.history import Cell
from quotes.costing.parts.usage import POOLED
from quotes.estimating import estimate, shop_inputs
from quotes.experience import refit
from quotes.models import Experience, StepReservation, StepUse, WayPart
from quotes.recipes.own_figures import leave_figure, set_figure
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.bench.test_bench_pages import post
from tests.quotes.past import DING, agreed_job, finished_jobs, shop_of_a_year
from tests.reading import says

DECK = "ding-deck-medium"
MANY = 12
LAMINATING = ("laminate_set_up_min", "laminate_min_per_ply", "laminate_min_per_1000_cm2")
MORE = 1.5  # times what the trade says; all of laminating's minutes go by these three figures


def slow_shop() -> dict:
    """So many jobs that took half as long again as the trade says."""
    made = shop_of_a_year()
    return {**made, "slow": finished_jobs(made["versions"][DECK], made["keeper"], MANY, minutes=MORE, spread=0.03)}


BEGINS = {"slow": slow_shop, "deck": shop_of_a_year}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def deck(versions):
    """The recipe that all jobs of these tests follow."""
    return versions[DECK]


@pytest.fixture
def slow(begun):
    return begun("slow")


def snapshot(version) -> dict:
    made = estimate(version=version, measures=DING, day=TODAY, board=Construction("pu", "polyester"))
    assert made.problems == []
    return made.snapshot().to_json()


def minutes(made: dict, operation: str = "laminate") -> dict:
    return next(x for x in made["lines"] if (x["operation"], x["kind"]) == (operation, "labour"))


def resin(made: dict) -> float:
    """All resin of an estimate in g."""
    return sum(line["use"]["value"] for line in made["lines"] if line["material"] == "resin-lam")


def set_times(name: str, times: float, by) -> None:
    """The trade's figure so many times, learned by at once as the page does."""
    one = CONSTANTS[name]
    set_figure(name=name, value=one.value * times, low=one.low * times, high=one.high * times, signed=Signed(by, NOW))


def work_slower(by) -> None:
    for name in LAMINATING:
        set_times(name, MORE, by)
    assert experience.learn_by_own_figures(at=NOW)


def test_a_rate_set_to_what_the_jobs_showed_leaves_the_price_and_cleared_brings_all_back(slow, deck, keeper):
    """1.5 was learned under the trade's rates; under rates of 1.5 times the trade's the jobs take 1.0 times them."""
    before = snapshot(deck)
    work_slower(keeper)
    after = snapshot(deck)
    assert minutes(after)["need"]["value"] == pytest.approx(MORE * minutes(before)["need"]["value"])
    assert after["cost_unrounded"] == pytest.approx(before["cost_unrounded"], rel=0.02)
    assert minutes(after)["use"]["value"] == pytest.approx(minutes(before)["use"]["value"], rel=0.02)
    figure = experience.own_figure("laminate", "minutes")
    assert figure.own == pytest.approx(1.0, rel=0.03)
    assert figure.logs == MANY
    for name in LAMINATING:
        leave_figure(name=name, signed=Signed(keeper, NOW))
    assert experience.learn_by_own_figures(at=NOW)
    assert {**snapshot(deck), "experience": None} == {**before, "experience": None}


def test_only_what_hangs_on_the_figure_is_held_against_it(slow, deck, keeper):
    before = {
        (term.step, term.operation, term.material): term.need for term in experience.gather(day=TODAY).history.terms
    }
    work_slower(keeper)
    after = {
        (term.step, term.operation, term.material): term.need for term in experience.gather(day=TODAY).history.terms
    }
    assert before.keys() == after.keys()
    for (step, operation, material), need in before.items():
        if operation == POOLED:  # what goes by the minute is shared with laminating
            continue
        times = MORE if (operation, material) == ("laminate", "minutes") else 1.0
        assert after[step, operation, material] == pytest.approx(times * need), (operation, material)


def test_a_figure_set_before_anything_was_learned_is_what_jobs_are_held_against(deck, keeper):
    work_slower(keeper)
    assert not Experience.objects.exists()
    stored = minutes(snapshot(deck))["need"]["value"]
    finished_jobs(deck, keeper, 3, minutes=1.0, spread=0.0)
    kept = WayPart.objects.first().snapshot["figures"]
    assert kept == {name: CONSTANTS[name].value * MORE for name in LAMINATING}
    history = experience.gather(day=TODAY).history
    needs = {term.need for term in history.terms if (term.operation, term.material) == ("laminate", "minutes")}
    assert list(needs) == [pytest.approx(stored)]
    assert history.trade.factors[Cell("laminate", "minutes")].mid == 1.0


def test_a_cup_loss_set_to_what_the_cups_showed_leaves_the_resin(deck, keeper):
    """Each mix left 20 g in its cup where the trade says 10: learned of the cups, then set."""
    finished_jobs(deck, keeper, MANY, spread=0.03)
    for use in StepUse.objects.filter(material__key="resin-lam", mix__isnull=False):
        StepUse.objects.filter(pk=use.pk).update(used=use.used + 10)
    experience.learn(at=NOW)
    before, lost = snapshot(deck), Experience.objects.get().figures["losses"]["resin-lam"]
    assert lost > 1.4
    set_times("cup_loss_g", 2.0, keeper)
    twice = resin(snapshot(deck))
    assert experience.learn_by_own_figures(at=NOW)
    assert resin(snapshot(deck)) == pytest.approx(resin(before), rel=0.03) != pytest.approx(twice, rel=0.03)
    assert Experience.objects.get().figures["losses"].get("resin-lam", 1.0) == pytest.approx(lost / 2.0, rel=0.1)


def test_a_use_that_the_smallest_mix_of_then_set_teaches_nothing_whatever_the_smallest_is_now(deck, keeper):
    """So much was mixed because less could not be metered."""
    finished_jobs(deck, keeper, 3, spread=0.0)
    cells = {(log.operation, log.material) for log in experience.gather(day=TODAY).history.logs}
    assert ("laminate", "resin-lam") not in cells
    assert ("hot-coat", "resin-lam") in cells
    set_figure(name="least_mix_g", value=1.0, low=0.5, high=2.0, signed=Signed(keeper, NOW))
    cells = {(log.operation, log.material) for log in experience.gather(day=TODAY).history.logs}
    assert ("laminate", "resin-lam") not in cells


def test_a_quote_of_before_quotes_kept_their_figures_is_worked_out_again_from_its_measures(slow, deck, keeper):
    before = snapshot(deck)
    for part in WayPart.objects.all():
        part.snapshot = {key: value for key, value in part.snapshot.items() if key not in ("figures", "alone")}
        part.save()
    experience.learn(at=NOW)
    assert snapshot(deck)["cost_unrounded"] == pytest.approx(before["cost_unrounded"], rel=0.01)
    work_slower(keeper)
    assert snapshot(deck)["cost_unrounded"] == pytest.approx(before["cost_unrounded"], rel=0.02)


def test_what_can_not_be_worked_out_again_keeps_its_needs(slow, deck, keeper):
    part = WayPart.objects.first()
    stored = minutes(part.snapshot)["need"]["value"]
    part.snapshot = {**part.snapshot, "measures": {}}
    part.save()
    work_slower(keeper)
    history = experience.gather(day=TODAY).history
    needs = [term.need for term in history.terms if (term.operation, term.material) == ("laminate", "minutes")]
    assert sorted(needs) == [pytest.approx(stored), *[pytest.approx(MORE * stored)] * (MANY - 1)]


def test_nothing_at_the_bench_is_in_doubt_because_a_figure_was_set(slow, deck, keeper):
    job = agreed_job(deck, keeper, NOW)
    step = job.steps.get(operation="laminate")
    took = Decimal(str(round(minutes(snapshot(deck))["use"]["value"], 1)))
    set_times("cup_loss_g", 2.0, keeper)
    work_slower(keeper)
    b.finish_step(step=step, minutes=took, signed=Signed(keeper, NOW))
    assert experience.doubts_on(step) == []
    b.correct_minutes(time=step.times.get(), minutes=round(took / 4, 1), signed=Signed(keeper, NOW))
    [doubt] = experience.doubts_on(step)
    assert doubt.doubt.low < float(took) < doubt.doubt.high


def reserved(job) -> dict[str, float]:
    """What is reserved for a job of each material, in the store's unit."""
    rows = StepReservation.objects.filter(step__job=job, reservation__released_at=None)
    found: dict[str, float] = defaultdict(float)
    for key, quantity in rows.values_list("reservation__material__key", "reservation__quantity"):
        found[key] += float(quantity)
    return dict(found)


def test_what_an_open_job_reserves_is_by_the_figures_of_now_once(deck, keeper):
    """Hot coats of 1.5 times the resin were learned, then the coat was said to be thicker by as much."""
    finished_jobs(deck, keeper, MANY, resin=MORE, spread=0.03)
    job = agreed_job(deck, keeper, NOW)
    set_times("hot_coat_film_mm", MORE, keeper)
    assert experience.learn_by_own_figures(at=NOW)
    reserve_job(job=job, at=NOW)
    found, quoted = reserved(job), snapshot(deck)["lines"]
    use = sum(line["use"]["value"] for line in quoted if line["material"] == "wax-styrene")  # goes by the hot coat
    assert found["wax-styrene"] == pytest.approx(use, rel=0.005)


def test_what_a_job_already_told_is_expected_to_cost_stays_where_the_figure_says_what_jobs_showed(slow, keeper):
    [before] = book.looked_back([slow[-1]])
    work_slower(keeper)
    [after] = book.looked_back([slow[-1]])
    assert after.expected_cost == pytest.approx(before.expected_cost, rel=0.02)
    assert [row.cost for row in after.quoted] == [row.cost for row in before.quoted]


def test_the_page_learns_at_once_and_says_so_or_that_the_night_does(slow, deck, keeper_client, form_key, monkeypatch):
    value = CONSTANTS["inspect_min"].value
    before = snapshot(deck)
    typed = {"value": f"{value * MORE:g}", "low": "1", "high": f"{value * 4:g}"}
    assert "takes the place of what your finished jobs taught" in says(keeper_client.get("/figures/inspect_min/"))
    post(keeper_client, form_key, "/figures/inspect_min/", **typed)
    assert "was worked out again by it" in says(keeper_client.get("/figures/"))
    assert snapshot(deck)["cost_unrounded"] == pytest.approx(before["cost_unrounded"], rel=0.02)
    monkeypatch.setattr(refit, "LEARNED_WHILE_WAITING", 0)
    post(keeper_client, form_key, "/figures/inspect_min/trade/")
    assert "is worked out by it tonight" in says(keeper_client.get("/figures/"))
    assert Experience.objects.get().stale_since is not None


def test_the_night_sees_a_figure_that_was_set_by_another_way(slow, keeper):
    row = experience.experience()
    assert not experience.waits(row)
    set_times("inspect_min", MORE, keeper)
    assert experience.waits(row)


def test_old_jobs_take_no_more_queries_the_more_there_are(slow, deck, keeper, django_assert_max_num_queries):
    work_slower(keeper)
    with django_assert_max_num_queries(18) as few:
        experience.gather(day=TODAY)
    finished_jobs(deck, keeper, 2)
    with django_assert_max_num_queries(len(few)):
        experience.gather(day=TODAY)
    assert shop_inputs(day=TODAY).shop.learned
