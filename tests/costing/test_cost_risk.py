"""Chance of loss: the closed form that is stored agrees with dice that are only thrown here."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from quotes.costing import STARTING_RECIPES, Snapshot, UsageFactor, cost_risk, estimate, sensitivities
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.snapshot.lines import FactorUsed, SnapshotLine, UnitCost
from quotes.costing.stats.normal import LogNormal
from quotes.costing.stats.outcomes import LogNormalMixture, cases
from tests.costing.dice import DRAWS, thrown
from tests.sample_shop import EPS, PU, SHOP, TWIN_KEELS, sizes_for


def snapshots(key: str, board, shop=SHOP) -> Snapshot:
    recipe = STARTING_RECIPES[key]
    sizes = sizes_for(recipe)
    return estimate(recipe, sizes, shop, board=board, accepted_odd=sizes).snapshot()


def known(part: Snapshot) -> Snapshot:
    """The same where nothing is uncertain: every factor counted, no cup keeps anything."""
    lines = (
        replace(one, loss=0.0, factor=one.factor._replace(low=one.factor.value, high=one.factor.value))
        for one in part.lines
    )
    return replace(part, lines=tuple(lines))


@pytest.mark.parametrize("seed", [11])
@pytest.mark.parametrize(
    ("keys", "board"),
    [
        (["glass-on-twin"], PU),
        (["ding-rail-small"], EPS),
        (["re-gloss"], PU),
        (["snap-stringer", "ding-deck-medium"], EPS),
    ],
)
def test_closed_form_and_dice_agree(keys: list[str], board, seed: int):
    parts = [snapshots(key, board) for key in keys]
    found = cost_risk(parts)
    cost, materials, minutes = thrown(parts, seed)
    for ours, theirs in ((found.cost, cost), (found.materials, materials), (found.minutes, minutes)):
        assert ours.mean == pytest.approx(theirs.mean(), rel=0.003)
        assert ours.sd == pytest.approx(theirs.std(), rel=0.03)
    assert found.cost.quantile(0.9) == pytest.approx(np.quantile(cost, 0.9), rel=0.005)
    net = 1.25 * found.cost.mean
    assert found.chance_of_loss(net) == pytest.approx((cost > net).mean(), abs=0.01)
    earned = (net - materials) / (minutes / 60) - found.overhead_per_hour
    for share in (0.1, 0.5, 0.9):
        assert found.earned(net, share) == pytest.approx(np.quantile(earned, share), rel=0.04)


def doing_again(rates: dict[str, float]):
    return replace(SHOP, again={key: ReworkRate(key, 100, round(100 * rate), rate, 0.0) for key, rate in rates.items()})


EVERYTHING = sorted({one.operation for recipe in STARTING_RECIPES.values() for one in recipe.acts})
ODDS = {
    "one dear step now and then": ("glass-on-twin", PU, {"sand": 0.1}),
    "one step in three": ("glass-on-twin", EPS, {"laminate": 0.33}),
    "several, each by its own rate": ("glass-on-twin", PU, {"laminate": 0.05, "sand": 0.15, "rope-fin": 0.2}),
    "two in a small repair": ("ding-rail-small", EPS, {"laminate": 0.1, "hot-coat": 0.4}),
    "every step now and then": ("glass-on-twin", PU, dict.fromkeys(EVERYTHING, 0.06)),
    "every step often": ("snap-stringer", EPS, dict.fromkeys(EVERYTHING, 0.3)),
}


@pytest.mark.parametrize("odds", ODDS)
def test_what_is_done_again_now_and_then_comes_out_as_by_dice(odds: str):
    key, board, rates = ODDS[odds]
    part = snapshots(key, board, doing_again(rates))
    assert part.again
    found = cost_risk([part])
    cost, materials, minutes = thrown([part], 5)
    for ours, theirs in ((found.cost, cost), (found.materials, materials), (found.minutes, minutes)):
        assert ours.mean == pytest.approx(theirs.mean(), rel=0.002)
        assert ours.sd == pytest.approx(theirs.std(), rel=0.02)
    for ours, theirs, near in (
        (found.cost, cost, 0.005),
        (found.minutes, minutes, 0.005),
        (found.materials, materials, 0.01),
    ):
        assert ours.quantile(0.9) == pytest.approx(np.quantile(theirs, 0.9), rel=near)
    for chance in (0.05, 0.1, 0.2, 0.5):
        net = found.net_for_chance(chance)
        assert found.chance_of_loss(net) == pytest.approx(chance, abs=1e-6)
        dice = 2 * math.sqrt(chance * (1 - chance) / DRAWS)  # what so many throws scatter themselves
        assert (cost > net).mean() == pytest.approx(chance, abs=0.01 + dice)
    net = 1.25 * found.cost.mean
    earned = (net - materials) / (minutes / 60) - found.overhead_per_hour
    for share in (0.1, 0.5, 0.9):
        assert found.earned(net, share) == pytest.approx(np.quantile(earned, share), rel=0.04)


def test_a_step_of_60_that_is_done_again_one_time_in_ten_has_a_long_tail():
    """Cost 100 with sd 12, and in a tenth of the cases 60 more.

    By 200 000 dice and by SciPy's distribution function.
    """
    dice = np.random.default_rng(9)
    s = math.sqrt(math.log1p(0.12**2))
    plain = np.exp(dice.standard_normal(DRAWS) * s) * 100 * math.exp(-s * s / 2)
    cost = plain + 60.0 * (dice.random(DRAWS) < 0.1)
    found = LogNormalMixture(np.array([0.9, 0.1]), np.array([100.0, 160.0]), np.array([12.0, 12.0]))
    assert found.mean == pytest.approx(106.0) == pytest.approx(cost.mean(), rel=0.002)
    assert found.sd == pytest.approx(math.sqrt(144 + 0.09 * 3600)) == pytest.approx(cost.std(), rel=0.02)
    assert found.quantile(0.9) == pytest.approx(138.5, rel=0.005)  # one log-normal of this mean and sd says 134.5
    laws = [stats.lognorm(log_sd(mean), scale=mean * math.exp(-(log_sd(mean) ** 2) / 2)) for mean in (100.0, 160.0)]
    for chance in (0.02, 0.05, 0.1, 0.2, 0.5, 0.9):
        price = found.quantile(1 - chance)
        assert (cost > price).mean() == pytest.approx(chance, abs=0.004)
        exact = 0.9 * laws[0].sf(price) + 0.1 * laws[1].sf(price)
        assert found.chance_above(price) == pytest.approx(exact, abs=1e-9) == pytest.approx(chance, abs=1e-8)


def log_sd(mean: float, sd: float = 12.0) -> float:
    return math.sqrt(math.log1p((sd / mean) ** 2))


@pytest.mark.parametrize("steps", [3, 8, 9, 25])
def test_cases_of_steps_done_again_keep_their_binomial_chances(steps: int):
    """All cases of up to 8 steps; of more those alike are one. Equal steps at equal odds: SciPy's binomial."""
    found = cases([0.2] * steps, np.full((steps, 2), [10.0, 1.0]))
    assert len(found.chances) == 2**steps if steps <= 8 else len(found.chances) <= 257
    assert found.chances.sum() == pytest.approx(1.0)
    number = np.rint(found.again.sum(axis=1)).astype(int)
    by_number = np.bincount(number, weights=found.chances, minlength=steps + 1)
    assert by_number == pytest.approx(stats.binom.pmf(np.arange(steps + 1), steps, 0.2), abs=1e-12)
    assert found.hidden == pytest.approx(np.zeros_like(found.hidden), abs=1e-9)
    assert found.chances @ found.again == pytest.approx([0.2] * steps)


def test_what_is_put_together_keeps_mean_and_variance():
    rates, added = np.linspace(0.02, 0.4, 20), np.stack((np.linspace(3.0, 40.0, 20), np.linspace(9.0, 0.0, 20)), axis=1)
    found = cases(list(rates), added)
    amounts = found.again @ added
    mean = found.chances @ amounts
    assert mean == pytest.approx(rates @ added)
    variance = found.chances @ (found.hidden + (amounts - mean) ** 2)
    assert variance == pytest.approx((rates * (1 - rates)) @ added**2)


def test_where_nothing_is_done_again_the_law_is_the_one_log_normal():
    found = cost_risk([snapshots("glass-on-twin", PU)])
    for ours in (found.cost, found.materials, found.minutes):
        law = LogNormal(ours.mean, ours.sd)
        assert ours.as_dict() == law.as_dict()
        assert ours.chance_above(1.1 * law.mean) == law.chance_above(1.1 * law.mean)


def test_a_sure_cost_with_a_step_done_again_is_one_of_two_amounts():
    part = snapshots("ding-deck-small", PU, doing_again({"fill": 0.25}))
    part = known(part)
    found = cost_risk([part]).cost
    once = cost_risk([replace(part, again=())]).cost.mean
    [own] = [one.materials + one.labour + one.overhead for one in part.again]
    assert found.chance_above(once - 0.01) == 1.0
    assert found.chance_above(once + 0.01) == pytest.approx(0.25)
    assert found.quantile(0.7) == pytest.approx(once)
    assert found.quantile(0.8) == pytest.approx(once + own, rel=0.02)


def test_a_price_for_a_chance_has_that_chance():
    found = cost_risk([snapshots("glass-on-twin", PU)])
    for chance in (0.05, 0.1, 0.2, 0.5):
        assert found.chance_of_loss(found.net_for_chance(chance)) == pytest.approx(chance)
    assert found.net_for_chance(0.05) > found.net_for_chance(0.2)


@pytest.mark.parametrize("share", [0.05, 0.25, 0.5, 0.9, 0.95])
def test_quantiles_of_a_matched_log_normal(share: float):
    """SciPy, scipy.stats.lognorm, with s² = ln(1 + (sd/mean)²) and scale = mean/√(1 + (sd/mean)²)."""
    ours = LogNormal(224.0, 31.0)
    s = math.sqrt(math.log1p((31 / 224) ** 2))
    reference = stats.lognorm(s, scale=224 / math.sqrt(1 + (31 / 224) ** 2))
    assert ours.quantile(share) == pytest.approx(reference.ppf(share))
    assert ours.chance_above(250.0) == pytest.approx(reference.sf(250.0))


def test_learning_narrows_the_range():
    recipe = STARTING_RECIPES["glass-on-twin"]
    wide = estimate(recipe, TWIN_KEELS, SHOP, board=PU).snapshot()
    operations = {line.operation for line in wide.lines}
    learned = {(op, "minutes"): UsageFactor(1.05, 0.98, 1.13, "learned from 20 jobs", spread=0.1) for op in operations}
    narrow = estimate(recipe, TWIN_KEELS, replace(SHOP, factors=learned), board=PU).snapshot()
    assert cost_risk([narrow]).cost.log_sd < cost_risk([wide]).cost.log_sd
    assert cost_risk([narrow]).minutes.log_sd < cost_risk([wide]).minutes.log_sd


def test_a_shop_that_knows_everything_risks_only_the_jobs_difficulty():
    part = snapshots("ding-deck-small", PU)
    part = known(part)
    found = cost_risk([part])
    assert found.cost.sd == 0
    assert found.chance_of_loss(found.cost.mean + 0.01) == 0
    assert found.chance_of_loss(found.cost.mean - 0.01) == 1


def test_a_stored_quote_gives_the_same_chance_again():
    part = snapshots("fin-box", PU)
    net = float(part.price_before_tax)
    assert cost_risk([part]).as_dict(net, SHOP.pricing) == cost_risk([part]).as_dict(net, SHOP.pricing)


def test_what_moves_a_price_is_led_by_the_minutes_and_moves_nothing_in_the_middle():
    recipe = STARTING_RECIPES["glass-on-twin"]
    bars = sensitivities(recipe, TWIN_KEELS, SHOP, board=PU)
    assert bars[0].name == "minutes_factor"
    assert [bar.span for bar in bars] == sorted((bar.span for bar in bars), reverse=True)
    for bar in bars:
        assert bar.low <= bar.value <= bar.high
        assert bar.source
    plain = replace(SHOP, pricing=replace(SHOP.pricing, step=0.0, minimum=0.0))
    usual = float(estimate(recipe, TWIN_KEELS, plain, board=PU).priced.shown)
    still = estimate(recipe, TWIN_KEELS, plain.varied("minutes_factor", 1.0), board=PU)
    assert float(still.priced.shown) == usual
    assert bars[0].price_at_low < usual < bars[0].price_at_high


@pytest.mark.parametrize("board", [PU, EPS])
def test_a_bar_ends_where_a_whole_new_estimate_with_that_figure_would(board):
    """Only figures that the estimate asks for are tried."""
    recipe = STARTING_RECIPES["glass-on-twin"]
    own = {("rope-fin", "minutes"): UsageFactor(1.4, 1.0, 2.2, "learned from 9 jobs")}
    plain = replace(SHOP, pricing=replace(SHOP.pricing, step=0.0, minimum=0.0), factors=own)
    for bar in sensitivities(recipe, TWIN_KEELS, plain, board=board):
        for end, found in ((bar.low, bar.price_at_low), (bar.high, bar.price_at_high)):
            if bar.name == "rope-fin minutes":
                varied = replace(plain, factors={("rope-fin", "minutes"): own["rope-fin", "minutes"].moved(end)})
            else:
                varied = plain.varied(bar.name, end)
            assert float(estimate(replace(recipe), TWIN_KEELS, varied, board=board).priced.shown) == found, bar.name


def test_a_learned_factor_is_a_bar_of_its_own():
    own = replace(SHOP, factors={("rope-fin", "minutes"): UsageFactor(1.4, 1.0, 2.2, "learned from 9 jobs")})
    bars = sensitivities(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, own, board=PU)
    bar = next(bar for bar in bars if bar.name == "rope-fin minutes")
    assert bar.source == "learned from 9 jobs"
    assert bar.price_at_low < bar.price_at_high


def test_every_figure_can_be_put_at_both_ends_of_its_range_and_still_be_priced():
    for key in ("glass-on-twin", "fin-box", "waterlogged"):
        recipe = STARTING_RECIPES[key]
        sizes = sizes_for(recipe)
        bars = sensitivities(recipe, sizes, SHOP, board=PU, accepted_odd=sizes)
        assert len(bars) > 20
        assert all(math.isfinite(bar.price_at_low) and math.isfinite(bar.price_at_high) for bar in bars)


def test_nothing_moves_a_price_that_is_not_there():
    assert sensitivities(STARTING_RECIPES["glass-on-twin"], {}, SHOP, board=PU) == []


@pytest.mark.parametrize("least", [5.0, 20.0, 50.0])
def test_a_smallest_mix_far_above_the_need_leaves_no_spread_and_no_error(least):
    # E[X²] − E[X]² of what is nearly constant may come out a hair below zero
    for tenths in range(1, 60):
        for spread in (0.05, 0.1, 0.2, 0.3):
            line = SnapshotLine(
                "laminate", 1, "material", "resin", "resin", tenths / 10, "g", "", FactorUsed(1.0, 0.9, 1.1, "", spread),
                1, 0.7, 0.7, least, False, "", least, least, UnitCost(1.0, "g", ""), least, Decimal(str(least)),
            )  # fmt: skip
            cost = cost_risk([Snapshot(lines=(line,))]).cost
            assert cost.mean >= least - 1e-9
            assert cost.sd >= 0.0
