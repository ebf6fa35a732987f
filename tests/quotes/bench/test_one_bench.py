"""Several repairs on one board at the bench: one step, one dose, one booking, and what each repair took."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from quotes import bench as b
from quotes import billing, quoting
from quotes.bench.papers import job_sheet
from quotes.bench.plan.reserving import days_of, reserve_job
from quotes.costing.recipes.starting import STARTING_RECIPES
from quotes.costing.stats.assumptions import MINUTES
from quotes.experience.gathering import gather
from quotes.lookback.past import looked_back
from quotes.models import Damage, Extra, Step, StepTime, StepUse, Way
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.benches import all_ticked, step_of, work_through
from tests.quotes.conftest import refusal, take_in
from tests.reading import says
from tests.sample_shop import sizes_for

HOUR = timedelta(hours=1)
SMALL = {"length": "50", "depth": "8"}
DINGS = {
    "ding-nose-small": {**SMALL, "around": "30"},
    "ding-deck-small": {**SMALL, "width": "30"},
    "ding-tail-small": {**SMALL, "around": "35"},
}
KEYS = sorted(set(STARTING_RECIPES) - {"waterlogged"})


@pytest.fixture
def board(counter):
    """A fish with three dings pinned on it: nose 1, deck 2, tail 3."""
    sides = (Damage.Side.LEFT_RAIL, Damage.Side.DECK, Damage.Side.RIGHT_RAIL)
    pins = [
        seed.rail_ding(side=side, from_tail_mm=Decimal(at)) for side, at in zip(sides, (1500, 900, 200), strict=True)
    ]
    return take_in(counter, damages=pins)


def way_of(takein, versions, by, repairs, *, optional=()) -> Way:
    """A way of these repairs (recipe and measures), each at its pin where there are as many."""
    quote = quoting.start_quote(takeins=[takein], signed=Signed(by, NOW))
    pins = list(takein.damages.order_by("number"))
    way = None
    for number, (key, measures) in enumerate(repairs):
        told = {
            "version": versions[key],
            "measures": measures,
            "accepted_odd": tuple(measures),
            "signed": Signed(by, NOW),
        }
        told["damage"] = pins[number] if number < len(pins) else None
        if way is None:
            way = quoting.add_way(board=quote.boards.get(), **told)
        else:
            quoting.add_part(way=way, optional=number in optional, **told)
    return Way.objects.get(pk=way.pk)


def agreed(way, by, **more):
    return b.accept_way(way=way, signed=Signed(by, NOW), how="at the counter", spoken=True, **more)


@pytest.fixture
def three(board, versions, counter):
    return way_of(board, versions, counter, DINGS.items(), optional=(1, 2))


@pytest.fixture
def job(three, stocked, counter):
    return agreed(three, counter)


def counted(way) -> tuple[dict[str, float], float]:
    """What the cost of a way counts: of each material, and hands-on minutes."""
    sums: dict[str, float] = defaultdict(float)
    for part in way.parts.all():
        for line in part.snapshot["lines"]:
            if line["kind"] != "overhead":
                sums[line["material"] or MINUTES] += line["use"]["value"]
    return dict(sums), sums.pop(MINUTES)


def planned(job) -> tuple[dict[str, float], float]:
    """What the steps of a job and its sundries plan to use, and minutes; what each repair bears of them is the same."""
    sums: dict[str, float] = defaultdict(float)
    own: dict[str, float] = defaultdict(float)
    steps = list(Step.with_sundries.filter(job=job))
    for step in steps:
        for line in step.plan["materials"]:
            sums[line["material"]] += line["planned"]
        for one in (one for _, plan in step.own_plans for one in plan.materials):
            own[one.material] += one.planned
    assert own == pytest.approx(sums)
    minutes = sum(step.planned_minutes for step in steps)
    assert sum(plan.minutes for step in steps for _, plan in step.own_plans) == pytest.approx(minutes)
    return dict(sums), minutes


# The steps


def test_the_bench_gets_one_inspect_one_hot_coat_with_one_dose_and_one_release_check(job):
    of = defaultdict(list)
    for step in job.steps.all():
        of[step.operation].append(step)
    parts = list(job.way.parts.values_list("pk", flat=True))
    for operation in ("inspect", "hot-coat", "release"):
        [step] = of[operation]
        assert list(step.repairs) == parts
    [coat] = of["hot-coat"]
    assert coat.title == "Hot coat at 1, 2 and 3"
    assert " at " not in of["inspect"][0].title
    [dose] = b.doses(coat)
    [resin] = [line.planned for line in b.planned_and_used(coat) if line.material.key == dose.resin]
    assert float(dose.resin_g * dose.count) == pytest.approx(float(resin), abs=0.6)  # a scale at the bench shows grams
    assert "1 (open ding on the nose)" in coat.instruction
    assert len(job.steps.all()) < 3 * len(job.way.parts.first().snapshot["steps"])


@pytest.mark.parametrize("key", KEYS)
def test_what_the_steps_plan_is_what_the_cost_counts(key, board, versions, counter):
    """Every recipe twice on a board with a ding, through the verbs of the quote and of the yes."""
    sizes = {name: f"{value:.6g}" for name, value in sizes_for(STARTING_RECIPES[key]).items()}
    way = way_of(board, versions, counter, [(key, sizes), (key, sizes), ("ding-deck-small", DINGS["ding-deck-small"])])
    materials, minutes = counted(way)
    found, took = planned(agreed(way, counter))
    assert found == pytest.approx({name: amount for name, amount in materials.items() if name != MINUTES})
    assert took == pytest.approx(minutes)


@pytest.mark.parametrize("wanted", [(), (1,), (2,), (1, 2)])
def test_a_choice_gets_the_steps_of_just_its_repairs(wanted, three, versions, stocked, counter):
    parts = list(three.parts.all())
    job = agreed(three, counter, wanted={parts[at].pk for at in wanted})
    kept = {parts[0].pk, *(parts[at].pk for at in wanted)}
    assert {key for step in job.steps.all() for key in step.repairs} == kept
    materials, minutes = counted(job.way)
    found, took = planned(job)
    assert found == pytest.approx({name: amount for name, amount in materials.items() if name != MINUTES})
    assert took == pytest.approx(minutes)


def test_a_way_of_before_keeps_the_steps_of_each_repair_and_works_on(three, stocked, counter, bench):
    Way.objects.filter(pk=three.pk).update(steps=[])
    job = agreed(Way.objects.get(pk=three.pk), counter)
    assert job.steps.filter(operation="inspect").count() == 3
    assert all(step.repairs == (step.part_id,) for step in job.steps.all())
    work_through(job, bench, stop_before="")
    assert not job.steps.ahead().exists()


# Order and windows


def test_a_step_for_several_waits_for_each_of_them(board, versions, stocked, counter, bench):
    """The keels' foam cures a day and the rail's paste an hour or so: levelled at both, they wait for the foam."""
    way = way_of(
        board, versions, counter, [("glass-on-twin", seed.KEELS), ("ding-deck-small", DINGS["ding-deck-small"])]
    )
    job = agreed(way, counter)
    steps = list(job.steps.all())
    [inspect] = b.heads(steps)
    b.finish_step(step=inspect, minutes=Decimal(8), signed=Signed(bench, NOW))
    assert len(b.heads(job.steps.all())) == 2
    level = step_of(job, "level")
    assert len(level.repairs) == 2
    for operation in ("rout", "pour-foam"):
        b.finish_step(step=step_of(job, operation), minutes=Decimal(8), signed=Signed(bench, NOW))
    level.refresh_from_db()
    assert level.earliest_at is None  # the paste is not in yet
    now = NOW + HOUR
    for operation in ("cut-back", "fill"):
        first = b.next_step(job.steps.all(), now)
        assert (first.operation, b.waits(first, now)) == (operation, False)
        b.finish_step(step=first, minutes=Decimal(8), signed=Signed(bench, now))
    level.refresh_from_db()
    assert level.earliest_at == NOW + 24 * HOUR  # foam is cut after a day; common practice, no source
    assert b.reopen_step(step=step_of(job, "fill"), signed=Signed(bench, now)).state == Step.State.DOING
    level.refresh_from_db()
    assert level.earliest_at is None


def test_undo_reaches_no_step_that_another_of_its_repairs_stands_on(job, bench):
    work_through(job, bench, stop_before="laminate")
    before = job.steps.filter(operation="sand").first() or job.steps.filter(operation="level").first()
    assert before.state == Step.State.DONE
    b.finish_step(step=step_of(job, "laminate"), minutes=Decimal(9), signed=Signed(bench, NOW + 48 * HOUR))
    assert "already begun" in refusal(lambda: b.reopen_step(step=before, signed=Signed(bench, NOW)))["__all__"][0]


def test_past_the_window_it_is_sanded_first_at_every_place(job, bench):
    work_through(job, bench, stop_before="hot-coat")
    coat = step_of(job, "hot-coat")
    sanding = b.start_step(step=coat, signed=Signed(bench, coat.latest_at + HOUR))
    assert sanding.repairs == coat.repairs
    alone = [plan.minutes for _, plan in sanding.own_plans]
    assert len(alone) == 3
    assert sum(alone) == pytest.approx(sanding.planned_minutes)
    assert sanding.planned_minutes < 3 * 8  # one set-up


def test_done_again_and_left_out_are_for_all_of_its_repairs(job, bench):
    work_through(job, bench, stop_before="hot-coat")
    coat = step_of(job, "hot-coat")
    b.finish_step(step=coat, minutes=Decimal(6), signed=Signed(bench, coat.earliest_at))
    again = b.redo_step(
        step=coat, cause="ours", billed=False, reason="pinholes", signed=Signed(bench, coat.earliest_at)
    )
    assert again.repairs == coat.repairs
    after = b.following(again)
    assert (after.earliest_at, again.position) == (None, after.position - 1)
    b.drop_step(step=again, reason="they sand out", signed=Signed(bench, coat.earliest_at))
    after.refresh_from_db()
    assert after.earliest_at is not None


def test_every_step_ahead_reserves_once_and_the_days_are_those_of_the_bench(job):
    steps = list(job.steps.all())
    links = [(link.step_id, link.reservation.material_id) for step in steps for link in step.reserved.all()]
    assert links
    assert len(links) == len(set(links))
    reserve_job(job=job, at=NOW)
    assert [(link.step_id, link.reservation.material_id) for step in steps for link in step.reserved.all()] == links
    from quotes.estimating import shop_calendar

    days = days_of(steps, today=TODAY, calendar=shop_calendar())
    assert [days[step.pk] for step in steps] == sorted(days[step.pk] for step in steps)


# What was really used


def test_what_a_step_took_is_booked_once_and_each_repair_bears_its_planned_share(job, bench, keeper):
    at = work_through(job, bench, stop_before="hot-coat")
    coat = step_of(job, "hot-coat")
    b.record_mix(step=coat, resin_g=Decimal(60), hardener_g=Decimal("0.9"), signed=Signed(bench, at))
    at = work_through(job, bench, start=at)
    b.finish_job(job=job, checks=all_ticked(job), signed=Signed(bench, at))
    job.refresh_from_db()
    assert StepUse.objects.filter(step=coat, material__key="resin-lam").count() == 1
    [past] = looked_back([job])
    each = [row for row in past.real if (row.operation, row.material) == ("hot-coat", "resin-lam")]
    assert [row.part for row in each] == list(coat.repairs)
    assert sum(row.qty for row in each) == pytest.approx(60)
    shares = [one.planned for _, plan in coat.own_plans for one in plan.materials if one.material == "resin-lam"]
    assert [row.qty / 60 for row in each] == pytest.approx([one / sum(shares) for one in shares])
    truth = billing.job_truth(job)
    assert sum(row.cost for row in past.real) == pytest.approx(float(truth.real_cost), abs=0.01)
    each = billing.cost_of_repairs(job)
    assert [one.name for one in each] == [part["name"] for part in job.way.totals["damages"]]
    assert float(sum(one.real for one in each)) == pytest.approx(float(truth.real_cost), abs=0.02)
    assert all(one.real > 0 and one.quoted > 0 for one in each)
    minutes = sum(row.qty for row in past.real if row.material == "hands")
    assert minutes == pytest.approx(float(sum(time.minutes for time in StepTime.objects.filter(step__job=job))))


def test_a_step_for_several_teaches_what_the_cost_counted_for_all_of_them(job, bench):
    """Everything written down as it was planned: each log is the need times the trade's factor, cups included."""
    at = NOW
    for step in job.steps.exclude(operation="release"):
        step.refresh_from_db()
        at = max(at, step.earliest_at or at) + timedelta(minutes=30)
        for dose in b.doses(step):
            for _ in range(dose.count):
                plan = dose.plan
                hardener = plan.hardens_g
                b.record_mix(step=step, which=dose.which, resin_g=Decimal(str(plan.resin_g)),
                             hardener_g=hardener and Decimal(str(hardener)), signed=Signed(bench, at))  # fmt: skip
        b.finish_step(step=step, minutes=Decimal(str(step.planned_minutes)), signed=Signed(bench, at))
    b.finish_job(job=job, checks=all_ticked(job), minutes=Decimal(9), signed=Signed(bench, at))
    history = gather(day=TODAY).history
    needs: dict[tuple[str, str], float] = defaultdict(float)
    cups: dict[tuple[str, str], float] = defaultdict(float)
    for term in history.terms:
        needs[term.operation, term.material] += term.need
        cups[term.operation, term.material] += term.mixes
    lines = {
        (line["operation"], line["material"] or MINUTES): line
        for part in job.way.parts.all() for line in part.snapshot["lines"] if line["kind"] in ("labour", "material")
    }  # fmt: skip
    told = {(log.operation, log.material): log for log in history.logs}
    for operation, material in (("hot-coat", "resin-lam"), ("laminate", MINUTES), ("hot-coat", MINUTES)):
        log, line = told[operation, material], lines[operation, material]
        expected = needs[operation, material] * line["factor"]["value"] + cups[operation, material] * line["loss"]
        assert log.value == pytest.approx(expected, abs=0.1), (operation, material)
        assert log.mixes == pytest.approx(cups[operation, material])
    [count] = {dose.count for dose in b.doses(step_of(job, "hot-coat"))}
    assert cups["hot-coat", "resin-lam"] == pytest.approx(count)
    assert history.trade.materials["resin-lam"].loss.mid == pytest.approx(lines["hot-coat", "resin-lam"]["loss"])


def test_a_wrong_log_of_a_step_for_several_is_doubted_over_all_it_serves(job, bench):
    from quotes.experience import doubts_on

    at = work_through(job, bench, stop_before="hot-coat")
    coat = step_of(job, "hot-coat")
    [dose] = b.doses(coat)
    b.record_mix(step=coat, resin_g=dose.resin_g, hardener_g=dose.hardener_g, signed=Signed(bench, at))
    assert doubts_on(coat) == []
    b.record_mix(step=coat, resin_g=dose.resin_g * 10, hardener_g=dose.hardener_g * 10, signed=Signed(bench, at))
    assert doubts_on(coat)


# What changes after the yes


def test_a_stop_leaves_out_what_is_ahead_and_an_extra_comes_before_it(job, counter, bench, versions):
    work_through(job, bench, stop_before="laminate")
    plug = way_of(job.takein, versions, counter, [("leash-plug", {"hole_diameter": "28", "hole_depth": "18"})])
    extra = b.note_found(job=job, words="the plug is loose", signed=Signed(bench, NOW))
    b.price_extra(extra=extra, way=plug, signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    assert b.heads(job.steps.all())[0].part.way == plug
    assert b.suggested_stop(job) > 0
    b.stop_job(job=job, amount=Decimal(40), how="by phone", signed=Signed(counter, NOW), below_cost=True)
    assert not job.steps.ahead().exists()
    assert job.extras.filter(kind=Extra.Kind.STOPPED).exists()


def test_what_must_not_be_done_is_asked_over_all_the_repairs_of_a_step(job, bench):
    """A core that is wet now: the step that closes any of the three places is refused, once."""
    work_through(job, bench, stop_before="fill")
    job.takein.wet = True
    job.takein.save()
    fill = Step.objects.select_related("job__takein__board").get(pk=step_of(job, "fill").pk)
    [refused] = b.refused_step(fill)
    assert "wet" in refused.text
    assert fill.pk in b.refused_ahead(job)


# What is read


def test_screens_and_the_sheet_say_the_places_of_a_step(job, client, bench):
    client.force_login(bench)
    coat = step_of(job, "hot-coat")
    for page in (reverse("job", args=[job.pk]), reverse("step", args=[coat.pk])):
        assert "Hot coat at 1, 2 and 3" in says(client.get(page))
    page = says(client.get(reverse("step", args=[coat.pk])))
    assert [f"Damage </span>{pin}" in page for pin in (1, 2, 3)] == [True] * 3
    said = job_sheet.context(job, at=NOW)
    assert [step["title"] for step in said["steps"]].count("Hot coat at 1, 2 and 3") == 1
    assert len(said["steps"]) == job.steps.count()
