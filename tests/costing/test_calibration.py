"""How fast a shop is and how many boards it does together, from a few of its own figures: against a search of all."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from quotes.costing import (
    CALIBRATED,
    STARTING_RECIPES,
    CoreDamage,
    KnownJob,
    NoCalibration,
    calibrate,
    check_own,
    estimate,
)
from quotes.costing.job.calibration import _linear, _plain, bench_boards, least_squares, misfit, worked_out
from quotes.costing.parts.usage import Learned
from tests.costing.test_whole_jobs import BOX, FIN, PLUG, SNAP, ding
from tests.sample_shop import PU, SHOP

JOBS = {
    "plug": CoreDamage("plug", "Leash plug", STARTING_RECIPES["leash-plug"], PLUG),
    "ding": CoreDamage("ding", "Small ding", STARTING_RECIPES["ding-deck-small"], ding(40, 30, 8)),
    "box": CoreDamage("box", "Fin box", STARTING_RECIPES["fin-box"], BOX),
    "snap": CoreDamage("snap", "Snap", STARTING_RECIPES["snap"], SNAP),
    "fin": CoreDamage("fin", "Glass-on fin", STARTING_RECIPES["glass-on-fin"], FIN),
    "gloss": CoreDamage(
        "gloss", "Gloss coat", STARTING_RECIPES["re-gloss"], {"board_length": 1880, "board_width": 480}
    ),
}


def shop_of(speed: float, boards: float):
    """A shop whose minutes are so many times the trade's, and which does so many boards together."""
    own = {"minutes_factor": speed, "rout_minutes_factor": speed, "sand_minutes_factor": speed,
           "boards_in_a_resin_session": boards, "boards_in_a_sanding_session": bench_boards(boards),
           "boards_in_a_spray_session": bench_boards(boards)}  # fmt: skip
    return replace(SHOP, constants={name: (value, value * 0.8, value * 1.5) for name, value in own.items()})


def minutes_in(shop, *keys: str) -> list[KnownJob]:
    return [
        KnownJob(JOBS[key], minutes=estimate(JOBS[key].recipe, JOBS[key].measures, shop, board=PU).minutes)
        for key in keys
    ]


def test_a_shop_that_works_as_the_trade_does_comes_out_so():
    found = calibrate(minutes_in(SHOP, "plug", "box", "gloss"), SHOP, board=PU, others=[JOBS["snap"]])
    assert found.speed == pytest.approx(1.0, abs=1e-4)
    assert found.boards == pytest.approx(3.0, abs=1e-3)
    for row in found.rows:
        assert row.minutes == pytest.approx(row.typed_minutes, rel=1e-3)
    [snap] = found.others
    assert snap.priced.shown == estimate(JOBS["snap"].recipe, SNAP, SHOP, board=PU).priced.shown


@pytest.mark.parametrize(("speed", "boards"), [(1.3, 1.0), (0.8, 3.0), (1.0, 5.0), (1.5, 2.0)])
def test_it_leans_to_how_the_shop_works(speed, boards):
    """Told all six jobs, what comes out fits them twice as well as the trade's figures do, or better."""
    typed = minutes_in(shop_of(speed, boards), *JOBS)
    found = calibrate(typed, SHOP, board=PU)
    trade = {job.key: estimate(job.recipe, job.measures, SHOP, board=PU).minutes for job in JOBS.values()}
    off = [abs(math.log(row.minutes / row.typed_minutes)) for row in found.rows]
    before = [abs(math.log(trade[one.damage.key] / one.minutes)) for one in typed]
    assert sum(off) < 0.5 * sum(before) + 0.01
    assert found.speed_low < found.speed < found.speed_high
    assert found.boards_low <= found.boards <= found.boards_high


def test_prices_tell_as_minutes_do():
    plain = replace(SHOP, pricing=replace(SHOP.pricing, step=0.0, minimum=0.0))
    slow = replace(plain, constants=shop_of(1.4, 3.0).constants)
    typed = [
        KnownJob(JOBS[key], price=float(estimate(JOBS[key].recipe, JOBS[key].measures, slow, board=PU).priced.shown))
        for key in ("plug", "box", "snap", "gloss")
    ]
    found = calibrate(typed, SHOP, board=PU)
    assert 1.15 < found.speed < 1.4
    told = replace(SHOP, constants=dict(found.constants))
    for row in found.rows:
        assert float(row.priced.shown) == pytest.approx(row.typed_price, rel=0.15)
        job = next(one for one in JOBS.values() if one.name == row.name)
        assert estimate(job.recipe, job.measures, told, board=PU).priced == row.priced


def test_three_estimates_give_a_job_for_every_speed_and_number_of_boards():
    """A job is linear in what a board bears of its set-ups: a whole new estimate says the same."""
    plain = _plain(SHOP)
    for job in JOBS.values():
        linear = _linear(job, plain, PU)
        for speed, boards in [(1.0, 1.0), (1.3, 3.0), (0.7, 5.5)]:
            own = {**shop_of(speed, boards).constants}
            found = estimate(job.recipe, job.measures, replace(plain, constants=own), board=PU)
            at = (plain, math.log(speed), math.log(boards))
            assert worked_out(KnownJob(job, minutes=1.0), linear, *at) == pytest.approx(found.minutes)
            # masks and bags go by the trade's minutes and by set-ups: a few cents that no one price hangs on
            assert worked_out(KnownJob(job, price=1.0), linear, *at) == pytest.approx(
                float(found.priced.shown), rel=0.01
            )


@settings(max_examples=12)
@given(
    off=st.lists(st.floats(0.5, 2.2), min_size=3, max_size=6), by_price=st.lists(st.booleans(), min_size=6, max_size=6)
)
def test_no_speed_and_number_of_boards_fits_better(off, by_price):
    """Against a brute-force search over 81 × 81 speeds and numbers of boards."""
    plain = _plain(SHOP)
    known, jobs = [], []
    for (job, times), priced in zip(zip(JOBS.values(), off, strict=False), by_price, strict=False):
        found = estimate(job.recipe, job.measures, plain, board=PU)
        amount = float(found.priced.shown) if priced else found.minutes
        known.append(KnownJob(job, price=amount * times) if priced else KnownJob(job, minutes=amount * times))
        jobs.append(_linear(job, plain, PU))
    u, v = least_squares(known, jobs, plain)
    best = misfit(known, jobs, plain, u, v)
    tried = [
        (misfit(known, jobs, plain, one, two), one, two)
        for one in np.linspace(-1.0, 1.0, 81)
        for two in np.linspace(0.0, math.log(6.0), 81)
    ]
    least, at_u, at_v = min(tried)
    assert best <= least + 1e-9
    assert u == pytest.approx(at_u, abs=0.06)
    assert v == pytest.approx(at_v, abs=0.3) or misfit(known, jobs, plain, u, at_v) - best < 0.05


def test_more_that_is_known_makes_it_surer():
    few, many = (calibrate(minutes_in(SHOP, *keys), SHOP, board=PU) for keys in (["plug", "ding", "box"], JOBS))
    assert many.speed_high / many.speed_low < few.speed_high / few.speed_low
    assert few.speed_high / few.speed_low < 1.5 / 0.8


def test_what_no_figure_comes_out_of():
    [plug, box] = minutes_in(SHOP, "plug", "box")
    with pytest.raises(ValueError, match="2 is too few"):
        calibrate([plug, box], SHOP, board=PU)
    with pytest.raises(ValueError, match="Leash plug: say either its minutes or its price"):
        calibrate([plug, box, replace(plug, price=60.0)], SHOP, board=PU)
    with pytest.raises(ValueError, match="Fin box: what you type must be above zero"):
        calibrate([plug, plug, replace(box, minutes=0.0)], SHOP, board=PU)
    no_size = replace(JOBS["snap"], measures={})
    with pytest.raises(ValueError, match="Snap: Board width at the break is missing"):
        calibrate([plug, box, KnownJob(no_size, minutes=240)], SHOP, board=PU)
    with pytest.raises(NoCalibration, match="Snap: a price of 5 does not pay for what it uses up") as cheap:
        calibrate([plug, box, KnownJob(JOBS["snap"], price=5.0)], SHOP, board=PU)
    assert cheap.value.key == "snap"


def test_a_job_that_fits_the_others_not_at_all_is_told_with_what_they_say():
    known = minutes_in(shop_of(1.3, 3.0), "plug", "ding", "box")
    [snap] = minutes_in(shop_of(1.3, 3.0), "snap")
    found = calibrate([*known, replace(snap, minutes=15.0)], SHOP, board=PU)
    assert next(iter(found.strange)) == "snap"
    assert found.strange["snap"] == pytest.approx(snap.minutes, rel=0.2)
    assert not calibrate([*known, snap], SHOP, board=PU).strange
    assert not calibrate([*known, replace(snap, minutes=1.8 * snap.minutes)], SHOP, board=PU).strange


def test_another_job_that_can_not_be_worked_out_is_left_out():
    known = minutes_in(SHOP, "plug", "box", "gloss")
    found = calibrate(known, SHOP, board=PU, others=[replace(JOBS["snap"], measures={}), JOBS["fin"]])
    assert [row.key for row in found.others] == ["fin"]


def test_figures_to_keep_have_two_places_and_the_rows_are_priced_with_these():
    found = calibrate(minutes_in(shop_of(1.37, 2.2), "plug", "box", "gloss"), SHOP, board=PU)
    assert set(found.constants) == CALIBRATED
    for value, low, high in found.constants.values():
        assert (round(value, 2), round(low, 2), round(high, 2)) == (value, low, high)
        assert 0 < low <= value <= high
    for name, figures in found.constants.items():
        check_own(name, *figures)


def test_what_logs_taught_of_minutes_is_no_part_of_the_fit_and_goes_before_it_in_a_price():
    known = minutes_in(SHOP, "plug", "box", "gloss")
    slow = {
        (line.operation, "minutes"): Learned(2.0, 2.0, 0.05, 0.2, 12, 0)
        for line in estimate(JOBS["plug"].recipe, PLUG, SHOP, board=PU).lines
    }
    taught = replace(SHOP, learned=slow)
    found = calibrate(known, taught, board=PU)
    assert found.speed == pytest.approx(1.0, abs=1e-4)
    assert found.boards == pytest.approx(3.0, abs=1e-3)
    plug = next(row for row in found.rows if row.key == "plug")
    assert plug.minutes > 1.5 * plug.typed_minutes
