"""Several damages on one board as one job: what is shared is taken once, and told apart so that it adds up."""

from __future__ import annotations

import json
import math
from collections import defaultdict
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from quotes.costing import (
    STARTING_RECIPES,
    BoardEstimate,
    CoreDamage,
    estimate,
    estimate_board,
    sensitivities,
    split_price,
)
from quotes.costing.job.reestimate import Knowledge, reestimate
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.money.pricing import price_way
from quotes.costing.parts.usage import OTHERS, Learned
from tests.sample_shop import EPS, PU, SHOP, sizes_for

FEW = settings(max_examples=25)
BOARDS = [PU, EPS]
CENT = Decimal("0.01")
SMALL = {"length": 40.0, "depth": 8.0, "paint": 0.0}
RECIPES = sorted(set(STARTING_RECIPES) - {"waterlogged"})


def ding(key: str, where: str = "deck", *, optional: bool = False, size: str = "small", **sizes: float) -> CoreDamage:
    across = "width" if where in ("deck", "bottom") else "around"
    recipe = STARTING_RECIPES[f"ding-{where}-{size}"]
    return CoreDamage(key, key.capitalize(), recipe, {**SMALL, across: 30.0, **sizes}, optional=optional)


def of(key: str, name: str, *, optional: bool = False, scale: float = 1.0, **more: float) -> CoreDamage:
    recipe = STARTING_RECIPES[name]
    lengths = {m.name for m in recipe.measures if m.dimension == "length"}
    sizes = {name: value * (scale if name in lengths else 1.0) for name, value in sizes_for(recipe).items()} | more
    return CoreDamage(key, key, recipe, sizes, tuple(sizes), optional)


TAUGHT = replace(SHOP, learned={
    ("hot-coat", "minutes"): Learned(0.9, 1.3, 0.1, 0.2, 8, 0, set_up=1.75, set_up_sd=0.15, together=-0.005),
    (OTHERS, "minutes"): Learned(1.1, None, 0.2, None, 0, 0, set_up=1.75, set_up_sd=0.15, together=-0.004),
})  # fmt: skip
FOUR = [ding("nose", "nose"), ding("rail", "rail"), ding("tail", "tail"), ding("deck")]
THREE_OPTIONAL = [replace(one, optional=True) for one in FOUR[:3]] + FOUR[3:]


def test_four_small_dings_on_one_board():
    """Common practice, no source: 80 minutes, 50 to 130; far from four times one."""
    four = estimate_board(FOUR, SHOP, board=PU)
    alone = estimate(FOUR[0].recipe, FOUR[0].measures, SHOP, board=PU)
    assert 50 <= four.minutes <= 130
    assert four.minutes < 2.5 * alone.minutes
    gloves = math.fsum(x.use for part in four.parts for x in part.lines if x.supply.material == "gloves")
    assert gloves == pytest.approx(3)  # a pair to fill, one to laminate, one to coat
    release = [step for step in four.steps if step.first.operation == "release"]
    assert [step.minutes for step in release] == [pytest.approx(6 + 3 * 1)]
    inspect = [step for step in four.steps if step.first.operation == "inspect"]
    assert [step.minutes for step in inspect] == [pytest.approx(6 + 3 * 2)]


def test_one_hot_coat_with_one_dose_says_where_it_goes():
    four = estimate_board(FOUR, SHOP, board=PU).as_dict()
    [coat] = [step for step in four["steps"] if step["operation"] == "hot-coat"]
    assert len(coat["mixes"]) == 1
    # film of 90+50 × 80+50 mm ovals, four of them, by the factor of 1.15 and the 10 g that one cup keeps
    film = 4 * math.pi / 4 * 0.140 * 0.130 * 0.25 * 1130
    planned = {one["material"]: one["planned"] for one in coat["materials"]}
    assert planned["resin-lam"] == pytest.approx(film * 1.15 + 10)
    assert coat["mixes"][0]["resin_g"] == pytest.approx(planned["resin-lam"])
    assert coat["mixes"][0]["count"] == 1
    assert [one["damage"] for one in coat["serves"]] == [0, 1, 2, 3]
    shares = [line["planned"] for one in coat["serves"] for line in one["materials"] if line["material"] == "resin-lam"]
    assert math.fsum(shares) == pytest.approx(planned["resin-lam"])
    assert "Nose, Rail, Tail, Deck: " in coat["instruction"]
    assert coat["instruction"].count("g resin") <= 1


def test_where_the_pot_life_does_not_reach_more_is_mixed():
    """Four patches at 4.3 min each are not wetted out in one cup that may gel after 11 minutes; two cups hold them."""
    laminate = next(s for s in estimate_board(FOUR, SHOP, board=PU).as_dict()["steps"] if s["operation"] == "laminate")
    minutes = math.fsum(4 + 6 * part["area_cm2"] / 1000 for part in laminate["pieces"])
    gel = laminate["mixes"][0]["gel_min"][0]
    assert laminate["mixes"][0]["count"] == math.ceil(minutes / gel) == 2


def test_unlike_resin_never_meets_in_a_cup():
    snap = of("snap", "re-gloss")
    found = estimate_board([ding("deck"), snap], SHOP, board=PU)
    coats = [step for step in found.as_dict()["steps"] if step["operation"] in ("hot-coat", "gloss-coat")]
    assert [len(step["serves"]) for step in coats] == [1, 1, 1]
    fibre, spheres = of("plug", "leash-plug"), ding("deck")
    pastes = [
        s for s in estimate_board([fibre, spheres], SHOP, board=PU).as_dict()["steps"] if s["session"] == "fill or foam"
    ]
    assert sorted(step["operation"] for step in pastes) == ["fill", "install"]


def test_every_damage_has_its_price_alone_and_with_the_others():
    four = estimate_board(FOUR, SHOP, board=PU)
    assert sum(four.way.shown.values()) == four.way.priced.shown
    for damage in FOUR:
        by_itself = estimate(damage.recipe, damage.measures, SHOP, board=PU)
        assert four.alone[damage.key].priced == by_itself.priced
        assert four.way.shown[damage.key] < by_itself.priced.shown
    costs = [part.cost_unrounded for part in four.parts]
    assert math.fsum(costs) == pytest.approx(four.way.cost)


def test_a_board_of_one_damage_is_that_damage():
    for key in RECIPES:
        one = of("only", key)
        board = estimate_board([one], SHOP, board=PU)
        plain = estimate(one.recipe, one.measures, SHOP, board=PU, accepted_odd=one.accepted_odd)
        assert board.parts[0].snapshot() == plain.snapshot()
        assert board.way.priced == plain.priced
        said = board.as_dict()
        assert [step["title"] for step in said["steps"]] == [step.title for step in plain.steps]
        windows = ("minutes", "earliest_start_h", "latest_start_h", "mixes", "materials", "instruction", "weight_g")
        for ours, own in zip(said["steps"], plain.snapshot().to_json()["steps"], strict=True):
            assert {name: ours[name] for name in windows} == {name: own[name] for name in windows}


def test_an_optional_damage_may_be_left_and_every_choice_has_its_price():
    found = estimate_board(THREE_OPTIONAL, SHOP, board=PU)
    assert len(found.choices) == 8
    for choice in found.choices:
        assert "deck" in choice.damages
        just_these = estimate_board([d for d in FOUR if d.key in choice.damages], SHOP, board=PU)
        assert choice.priced == just_these.way.priced
        assert choice.shown == just_these.way.shown
        assert choice.minutes == pytest.approx(just_these.minutes)
        assert sum(choice.shown.values()) == choice.priced.shown
    assert found.choice(["deck", "nose"]).damages == ("nose", "deck")
    with pytest.raises(KeyError, match="no choice of nose"):
        found.choice(["nose"])
    assert len(estimate_board(THREE_OPTIONAL, SHOP, board=PU, choices=False).choices) == 1


def test_where_all_are_optional_none_is_no_choice():
    found = estimate_board([replace(one, optional=True) for one in FOUR[:3]], SHOP, board=PU)
    assert len(found.choices) == 7
    assert all(choice.damages for choice in found.choices)


def test_what_no_board_can_be_priced_with():
    with pytest.raises(ValueError, match="at least one damage"):
        estimate_board([], SHOP)
    with pytest.raises(ValueError, match="nose is there twice"):
        estimate_board([FOUR[0], FOUR[0]], SHOP)
    many = [replace(FOUR[0], key=str(n), optional=True) for n in range(7)]
    with pytest.raises(ValueError, match="At most 6"):
        estimate_board(many, SHOP)


def test_a_gap_of_one_damage_leaves_the_board_without_a_price():
    found = estimate_board([FOUR[0], replace(FOUR[1], measures={})], SHOP, board=PU)
    assert [key for key, _ in found.problems] == ["rail"] * 3
    assert found.way is None
    assert found.choices == ()
    said = found.as_dict()
    assert said["price"] is None
    assert {one["damage"] for one in said["problems"]} == {"rail"}
    assert json.dumps(said)


PAIRS = {
    "first": st.sampled_from(RECIPES), "second": st.sampled_from(RECIPES), "third": st.sampled_from(RECIPES),
    "board": st.sampled_from(BOARDS), "scale": st.floats(0.7, 1.5),
}  # fmt: skip


def board_of(*keys: str, board, scale: float = 1.0, shop=SHOP, optional: bool = False) -> BoardEstimate:
    damages = [of(f"{n} {key}", key, scale=scale if n == 0 else 1.0, optional=optional) for n, key in enumerate(keys)]
    found = estimate_board(damages, shop, board=board)
    assume(not found.problems)
    return found


@FEW
@given(**PAIRS)
def test_a_choice_costs_no_less_than_one_of_its_damages_and_no_more_than_all_alone(first, second, third, board, scale):
    found = board_of(first, second, third, board=board, scale=scale, optional=True)
    by_keys = {frozenset(choice.damages): choice for choice in found.choices}
    for keys, choice in by_keys.items():
        assert choice.cost <= math.fsum(found.alone[key].cost for key in keys) + 1e-9
        for key in keys:
            assert choice.priced.shown >= found.alone[key].priced.shown
            assert choice.cost >= found.alone[key].cost - 1e-9
            rest = by_keys.get(keys - {key})
            if rest is not None:
                assert choice.cost >= rest.cost - 1e-9
                assert choice.cost - rest.cost <= found.alone[key].cost + 1e-9
                assert choice.priced.shown - rest.priced.shown <= found.alone[key].priced.shown + CENT
                assert choice.minutes >= rest.minutes - 1e-9


@FEW
@given(**PAIRS, step=st.sampled_from([0.0, 5.0]), minimum=st.sampled_from([0.0, 90.0]))
def test_the_shown_parts_add_up_and_none_is_dearer_than_alone(first, second, third, board, scale, step, minimum):
    shop = replace(SHOP, pricing=replace(SHOP.pricing, step=step, minimum=minimum))
    found = board_of(first, second, third, board=board, scale=scale, shop=shop, optional=True)
    for choice in found.choices:
        assert sum(choice.shown.values()) == choice.priced.shown
        for key, amount in choice.shown.items():
            assert 0 <= amount <= found.alone[key].priced.shown + CENT
    way = price_way([part.snapshot() for part in found.parts], shop.pricing)
    assert (way["price"], way["cost"]) == (str(found.way.priced.gross), str(found.way.priced.cost))


@FEW
@given(
    kinds=st.lists(st.sampled_from(RECIPES), min_size=2, max_size=3, unique=True), board=st.sampled_from(BOARDS),
    which=st.integers(0, 20), more=st.floats(0.01, 0.6),
)  # fmt: skip
def test_more_of_any_measure_never_costs_weighs_or_takes_less_on_the_whole_board(kinds, board, which, more):
    damages = [of(key, key) for key in kinds]
    sizes = damages[0].measures
    name = sorted(sizes)[which % len(sizes)]
    whole = {m.name for m in damages[0].recipe.measures if m.dimension == "count"}
    grown = {**sizes, name: sizes[name] + 1 if name in whole else sizes[name] * (1 + more)}
    assume(name != "paint" or sizes[name] == 0)
    small, large = (
        estimate_board([replace(damages[0], measures=one), *damages[1:]], SHOP, board=board) for one in (sizes, grown)
    )
    assume(not small.problems and not large.problems)
    assert large.way.cost >= small.way.cost - 1e-9, name
    assert large.way.priced.shown >= small.way.priced.shown
    assert large.minutes >= small.minutes - 1e-9
    assert large.ready_days >= small.ready_days - 1e-9
    assert large.added_weight_g >= small.added_weight_g - 1e-9


@FEW
@given(**PAIRS)
def test_what_the_steps_plan_is_what_the_cost_counts(first, second, third, board, scale):
    found = board_of(first, second, third, board=board, scale=scale)
    counted: dict[str, float] = defaultdict(float)
    minutes = 0.0
    for part in found.parts:
        for line in part.lines:
            if line.supply.material:
                counted[line.supply.material] += line.use
            elif line.kind == "labour":
                minutes += line.use
    said = found.as_dict()
    planned: dict[str, float] = defaultdict(float)
    served: dict[str, float] = defaultdict(float)
    for step in said["steps"]:
        for one in step["materials"]:
            planned[one["material"]] += one["planned"]
        for one in step["serves"]:
            for line in one["materials"]:
                served[line["material"]] += line["planned"]
    assert planned == pytest.approx(counted)
    assert served == pytest.approx(counted)
    assert (
        math.fsum(step["minutes"] for step in said["steps"]) == pytest.approx(minutes) == pytest.approx(said["minutes"])
    )
    assert math.fsum(step["weight_g"] for step in said["steps"]) == pytest.approx(said["added_weight_g"])


@pytest.mark.parametrize("key", sorted(STARTING_RECIPES))
def test_the_told_doses_are_the_resin_that_the_cost_counts(key):
    """Two of a kind on one board: mixes × grams in the cup is what the lines of their resin plan."""
    pair = [of("one", key), of("two", key)]
    found = estimate_board(pair, SHOP, board=PU)
    for step in found.as_dict()["steps"]:
        told: dict[str, float] = defaultdict(float)
        for mix in step["mixes"]:
            told[mix["resin"]] += mix["count"] * mix["resin_g"]
        planned = {one["material"]: one["planned"] for one in step["materials"]}
        assert told == pytest.approx({resin: planned[resin] for resin in told}), step["title"]


@FEW
@given(**PAIRS)
def test_the_bench_keeps_the_order_of_every_damage(first, second, third, board, scale):
    found = board_of(first, second, third, board=board, scale=scale)
    said = found.as_dict()
    for number, part in enumerate(found.parts):
        own = [one["step"] for step in said["steps"] for one in step["serves"] if one["damage"] == number]
        assert own == [step.index for step in part.steps]
    assert sum(step["operation"] == "inspect" for step in said["steps"]) == 1
    assert said["steps"][-1]["operation"] == "release"


@pytest.mark.parametrize("board", BOARDS)
def test_with_nothing_learned_since_every_line_of_a_board_comes_back(board):
    found = estimate_board([*FOUR, of("dents", "pressure-dent"), of("delam", "delamination")], SHOP, board=board)
    for part in found.parts:
        lines = part.snapshot().lines
        for before, after in zip(lines, reestimate(lines, Knowledge()), strict=True):
            assert after.use == pytest.approx(before.use, rel=1e-12), before.name
            assert after.cost == pytest.approx(before.cost, rel=1e-12)


def test_work_that_is_done_again_is_carried_for_each_damage():
    shop = replace(SHOP, again={"laminate": ReworkRate("laminate", 28, 2, 0.06, 18.0)})
    plain, carried = (estimate_board(FOUR, one, board=PU) for one in (SHOP, shop))
    assert carried.way.cost > plain.way.cost
    assert math.fsum(part.cost_unrounded for part in carried.parts) == pytest.approx(carried.way.cost)


@given(
    st.lists(st.tuples(st.floats(0, 500), st.integers(0, 60000)), min_size=1, max_size=6), st.integers(0, 150000),
)  # fmt: skip
def test_a_price_is_told_apart_to_the_cent_within_what_each_costs_alone(rows, cents):
    costs, alone = [cost for cost, _ in rows], [Decimal(cap).scaleb(-2) for _, cap in rows]
    total = Decimal(cents).scaleb(-2)
    found = split_price(total, costs, alone)
    assert sum(found) == total
    assert all(one >= 0 for one in found)
    if sum(alone) >= total:
        assert all(one <= cap for one, cap in zip(found, alone, strict=True))


def test_a_price_set_by_hand_goes_by_the_costs():
    # 60 and 20 of 80; 2 : 1 : 1 of 100.01, the odd cent to the largest remainder
    assert split_price(Decimal("80.00"), [30.0, 10.0]) == [Decimal("60.00"), Decimal("20.00")]
    assert split_price(Decimal("100.01"), [2.0, 1.0, 1.0]) == [Decimal("50.01"), Decimal("25.00"), Decimal("25.00")]
    assert split_price(Decimal("100"), [2.0, 1.0, 1.0], decimals=0) == [Decimal(50), Decimal(25), Decimal(25)]


def test_a_shop_slow_at_setting_up_bears_that_where_set_ups_are_borne():
    """Learned set-ups are 1.75 times the trade's beside 0.9 (hot coat) and 1.1 (any other): by hand, step by step."""
    for step in estimate_board(FOUR, TAUGHT, board=PU).parts[0].steps:
        rate = 0.9 if step.operation == "hot-coat" else 1.1
        took = rate * (step.standard_minutes - step.set_up + 1.75 * step.set_up)
        assert step.minutes == pytest.approx(took)


def test_what_damages_share_holds_with_learned_set_ups_too():
    four = estimate_board(THREE_OPTIONAL, TAUGHT, board=PU)
    alone = {one.key: estimate(one.recipe, one.measures, TAUGHT, board=PU) for one in THREE_OPTIONAL}
    total = math.fsum(part.cost_unrounded for part in four.parts)
    for one, part in zip(THREE_OPTIONAL, four.parts, strict=True):
        assert part.cost_unrounded < alone[one.key].cost_unrounded < total
        assert four.minutes > alone[one.key].minutes
    two = estimate_board([THREE_OPTIONAL[0], THREE_OPTIONAL[3]], TAUGHT, board=PU)
    both = {THREE_OPTIONAL[0].key, THREE_OPTIONAL[3].key}
    assert four.choice(both).priced == two.choice(both).priced
    assert four.choice(both).cost == pytest.approx(math.fsum(part.cost_unrounded for part in two.parts))


def test_a_ding_said_afresh_with_learned_set_ups_is_the_estimate_made_with_them():
    before = estimate(FOUR[3].recipe, FOUR[3].measures, SHOP, board=PU).snapshot().lines
    now = estimate(FOUR[3].recipe, FOUR[3].measures, TAUGHT, board=PU).snapshot().lines
    for told, made in zip(reestimate(before, Knowledge(learned=TAUGHT.learned)), now, strict=True):
        assert told.use == pytest.approx(made.use, rel=1e-12)
        assert told.factor.low == pytest.approx(made.factor.low, rel=1e-12)
        assert told.cost == pytest.approx(made.cost, rel=1e-12)


def test_what_moves_a_price_counts_the_work_of_operations_never_met():
    movers = sensitivities(FOUR[3].recipe, FOUR[3].measures, TAUGHT, board=PU)
    other = next(one for one in movers if one.name == f"{OTHERS} minutes")
    assert other.span > next(one for one in movers if one.name == "hot-coat minutes").span > 0
