"""The sundries of a job: one line of it, no step; reserved from the first day, booked once, undone in one tap."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Material
from inventory.stock import books
from quotes import bench as b
from quotes import billing
from quotes.bench.papers import job_sheet
from quotes.bench.plan.reserving import days_of
from quotes.estimating import shop_calendar
from quotes.experience.gathering import gather
from quotes.lookback.past import looked_back
from quotes.lookback.variances import compared
from quotes.models import Extra, Job, Step, StepReservation, StepUse, Way
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.bench.test_one_bench import DINGS, agreed, way_of
from tests.quotes.benches import all_ticked, work_through
from tests.quotes.conftest import refusal, take_in

HOUR = timedelta(hours=1)
PLUG = {"hole_diameter": "28", "hole_depth": "18"}


@pytest.fixture
def board(counter):
    return take_in(counter, damages=[seed.rail_ding(from_tail_mm=Decimal(at)) for at in (1500, 900, 200)])


@pytest.fixture
def way(board, versions, counter):
    """Two dings as one way."""
    return way_of(board, versions, counter, list(DINGS.items())[:2])


@pytest.fixture
def job(way, stocked, counter):
    return agreed(way, counter)


@pytest.fixture
def line(job):
    [line] = b.sundries_of(job)
    return line


def on_hand(key):
    return sum(lot.quantity_left for lot in Material.objects.get(key=key).lots.all())


def booked(job):
    uses = StepUse.objects.filter(step__job=job, undone_at=None).select_related("material", "step")
    return [(use.material.key, use.used, use.step.is_sundries) for use in uses]


def finished(job, by, at=NOW):
    return b.finish_job(job=job, checks=all_ticked(job), signed=Signed(by, at + HOUR))


# It is no step


def test_the_sundries_are_one_line_that_nobody_works(job, line):
    assert (line.title, line.plan["minutes"], line.part.way) == ("Sundries of this job", 0.0, job.way)
    assert line not in job.steps.all()
    assert line not in Step.objects.all()
    assert line not in b.heads(job.steps.all())
    assert {"gloves", "rag", "acetone", "cup"} <= {one.material.key for one in b.planned_and_used(line)}
    for step in job.steps.all():
        assert not {"gloves", "rag", "acetone", "cup"} & {one.material.key for one in b.planned_and_used(step)}


def test_what_a_plug_takes_in_hardware_stays_at_its_step(board, versions, stocked, counter):
    job = agreed(way_of(board, versions, counter, [("leash-plug", PLUG)]), counter)
    [line] = b.sundries_of(job)
    assert "leash-plug" not in {one.material.key for one in b.planned_and_used(line)}
    assert any("leash-plug" in {one.material.key for one in b.planned_and_used(step)} for step in job.steps.all())


# Reserved


def test_they_are_reserved_once_from_the_day_of_the_first_step_that_takes_them(job, line):
    links = StepReservation.objects.filter(step=line, reservation__released_at=None).select_related("reservation")
    reserved = {link.reservation.material.key: link.reservation for link in links}
    assert {key: row.quantity for key, row in reserved.items()} == {
        one.material.key: one.planned for one in b.planned_and_used(line)
    }
    steps = list(job.steps.all())
    days = days_of(steps, today=TODAY, calendar=shop_calendar())
    for key, row in reserved.items():
        takers = [step for step in steps if key in {one["material"] for one in step.plan["materials"]}]
        assert row.needed_on == min(days[step.pk] for step in takers)
    assert len({row.needed_on for row in reserved.values()}) > 1


def test_what_is_booked_at_a_step_is_no_more_of_the_line(job, line, bench):
    fill = job.steps.get(operation="fill")
    gloves = Material.objects.get(key="gloves")
    use = b.record_use(step=fill, material=gloves, quantity=Decimal(3), signed=Signed(bench, NOW))
    [seen] = [one for one in b.planned_and_used(line) if one.material == gloves]
    assert (seen.used, seen.left) == (Decimal(3), 0)
    held = StepReservation.objects.filter(step=line, reservation__released_at=None, reservation__material=gloves)
    assert not held.exists()
    b.undo_use(use=use, signed=Signed(bench, NOW))
    assert held.exists()


def test_a_step_left_out_takes_none_of_them(job, line, bench):
    before = {one.material.key: one.planned for one in b.planned_and_used(line)}
    b.drop_step(step=job.steps.get(operation="hot-coat"), reason="not needed", signed=Signed(bench, NOW))
    after = {one.material.key: one.planned for one in b.planned_and_used(line)}
    assert 0 < after["gloves"] < before["gloves"]
    assert after["dust-bag"] == before["dust-bag"]


# Booked


def test_the_release_check_books_them_once_as_planned_and_undo_puts_them_back(job, line, bench, keeper):
    there = on_hand("gloves")
    at = work_through(job, bench)
    assert on_hand("gloves") == there
    planned = {one.material.key: one.planned for one in b.planned_and_used(line)}
    finished(job, bench, at)
    assert {key: used for key, used, shared in booked(job) if shared} == planned
    assert on_hand("gloves") == there - planned["gloves"]
    line.refresh_from_db()
    assert line.state == Step.State.DONE
    b.undo_use(use=line.uses.first(), signed=Signed(bench, at + 2 * HOUR))
    assert not any(shared for *_, shared in booked(job))
    assert on_hand("gloves") == there
    b.book_sundries(line=line, amounts={}, signed=Signed(bench, at + 3 * HOUR))
    assert {key: used for key, used, shared in booked(job) if shared} == planned
    assert books.problems() == []


def test_amounts_that_were_said_are_booked_before_the_check_and_not_again(job, line, bench):
    uses = b.book_sundries(line=line, amounts={"gloves": Decimal(4), "rag": Decimal(0)}, signed=Signed(bench, NOW))
    taken = {use.material.key: use for use in uses}
    assert taken["gloves"].used == 4
    assert (taken["gloves"].as_planned, taken["acetone"].as_planned) == (False, True)
    assert "rag" not in taken
    assert len({use.tap for use in uses}) == 1
    finished(job, bench, work_through(job, bench))
    keys = [key for key, _, shared in booked(job) if shared]
    assert len(keys) == len(set(keys)) == len(uses)


def test_undone_before_the_check_they_are_booked_with_it(job, line, bench):
    [first, *_] = b.book_sundries(line=line, amounts={"gloves": Decimal(4)}, signed=Signed(bench, NOW))
    b.undo_use(use=first, signed=Signed(bench, NOW))
    finished(job, bench, work_through(job, bench))
    gloves = [used for key, used, _ in booked(job) if key == "gloves"]
    assert gloves == [one.planned for one in b.planned_and_used(line) if one.material.key == "gloves"]


def test_they_are_refused_twice_and_below_zero(job, line, bench):
    wrong = refusal(lambda: b.book_sundries(line=line, amounts={"gloves": Decimal(-1)}, signed=Signed(bench, NOW)))
    assert "below zero" in wrong["gloves"][0]
    assert booked(job) == []
    b.book_sundries(line=line, amounts={}, signed=Signed(bench, NOW))
    assert "already" in str(refusal(lambda: b.book_sundries(line=line, amounts={}, signed=Signed(bench, NOW))))


def test_a_job_opened_again_to_do_a_step_again_books_them_no_second_time(job, line, bench):
    at = work_through(job, bench)
    finished(job, bench, at)
    before = len(booked(job))
    coat = job.steps.get(operation="hot-coat")
    again = b.redo_step(step=coat, cause="ours", billed=False, reason="pinholes", signed=Signed(bench, at + HOUR))
    b.drop_step(step=again, reason="they sand out", signed=Signed(bench, at + HOUR))
    job.refresh_from_db()
    finished(job, bench, at + HOUR)
    assert len(booked(job)) == before


# What changes after the yes


def test_a_job_stopped_early_books_what_was_used(job, line, bench, counter):
    b.stop_job(job=job, amount=Decimal(0), how="by phone", signed=Signed(counter, NOW), below_cost=True)
    assert booked(job) == []
    line.refresh_from_db()
    assert not line.ahead


def test_and_half_way_through_its_part(job, line, bench, counter):
    planned = {one.material.key: one.planned for one in b.planned_and_used(line)}
    work_through(job, bench, stop_before="hot-coat")
    b.stop_job(job=job, amount=Decimal(40), how="by phone", signed=Signed(counter, NOW), below_cost=True)
    used = {key: used for key, used, shared in booked(job) if shared}
    assert 0 < used["gloves"] < planned["gloves"]
    assert "brush" not in used  # a brush is for the coat, which was not begun
    assert all(amount <= planned[key] for key, amount in used.items())


def test_another_way_closes_the_line_and_brings_its_own_and_more_work_one_more(job, line, bench, counter, versions):
    plug = way_of(job.takein, versions, counter, [("leash-plug", PLUG)])
    extra = b.note_found(job=job, words="the plug is loose", signed=Signed(bench, NOW))
    b.price_extra(extra=extra, way=plug, signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    assert [one.part.way for one in b.sundries_of(job)] == [job.way, plug]
    other = way_of(job.takein, versions, counter, [("ding-nose-small", DINGS["ding-nose-small"])])
    offered = b.propose_another_way(job=job, way=other, words="", signed=Signed(counter, NOW))
    assert offered.kind == Extra.Kind.ANOTHER
    b.answer_extra(extra=offered, agreed=True, how="by phone", signed=Signed(counter, NOW))
    assert [(one.part.way, one.ahead) for one in b.sundries_of(job)] == [
        (job.way, False), (plug, False), (other, True),
    ]  # fmt: skip
    assert booked(job) == []  # nothing had been begun


def test_an_old_job_with_its_sundries_on_a_step_works_on_as_it_did(way, stocked, counter, bench):
    for part in way.parts.all():
        for step in part.snapshot["steps"]:
            for one in step["materials"]:
                one.pop("sundry", None)
        part.save()
    steps = way.steps
    for step in steps:
        for one in [*step["materials"], *(each for own in step["serves"] for each in own["materials"])]:
            one.pop("sundry", None)
    Way.objects.filter(pk=way.pk).update(steps=steps)
    job = agreed(Way.objects.get(pk=way.pk), counter)
    assert b.sundries_of(job) == []
    finished(job, bench, work_through(job, bench))
    assert "gloves" in {key for key, _, shared in booked(job) if not shared}
    assert Job.objects.get(pk=job.pk).state == Job.State.FINISHED


# What is made of it


def test_amounts_said_teach_and_those_as_planned_do_not(job, line, bench):
    b.book_sundries(line=line, amounts={"gloves": Decimal(5)}, signed=Signed(bench, NOW))
    finished(job, bench, work_through(job, bench))
    logs = {log.material: log.value for log in gather(day=TODAY).history.logs if log.operation == "whole job"}
    assert logs == {"gloves": pytest.approx(5.0)}


def test_they_are_in_what_the_job_and_each_repair_cost_beside_what_was_quoted(job, line, bench):
    finished(job, bench, work_through(job, bench))
    job.refresh_from_db()
    truth = billing.job_truth(job)
    cost = sum(use.cost for use in StepUse.objects.filter(step__job=job, undone_at=None))
    assert truth.real.materials == cost
    each = billing.cost_of_repairs(job)
    assert float(sum(one.real for one in each)) == pytest.approx(float(truth.real_cost), abs=0.02)
    [past] = looked_back([job])
    [gloves] = [row for row in compared(past) if row.name.startswith("Nitrile")]
    assert gloves.quoted_qty > 0
    assert gloves.real_qty > 0


def test_a_container_that_was_weighed_is_offered_for_the_line_and_not_for_each_step(job, line, stocked):
    acetone = Material.objects.get(key="acetone")
    assert b.steps_that_take(acetone) == [line]


# What is read


def test_job_and_sheet_say_them_once_and_the_page_books_them(job, line, client, bench):
    client.force_login(bench)
    page = client.get(reverse("job", args=[job.pk])).content.decode()
    assert page.count("Sundries of this job") == 1
    assert "Booked with the release check" in page
    said = job_sheet.context(job, at=NOW)
    [words] = said["sundries"]
    assert "× Nitrile gloves" in words
    assert "gloves" not in said["at_hand"]
    assert "Sundries" not in " ".join(step["title"] for step in said["steps"])
    assert len(said["steps"]) == job.steps.count()
    address = reverse("sundries", args=[line.pk])
    assert client.get(reverse("step", args=[line.pk])).url == address
    assert client.get(reverse("step-done", args=[line.pk])).status_code == 404
    release = client.get(reverse("job-release", args=[job.pk])).content.decode()
    assert address in release
    form = client.get(address)
    boxes = {name: form.context["form"].initial[name] for name in form.context["form"].fields}
    sent = {**boxes, "gloves": "6", "submission_key": "7b0a4d3c-2a0e-4a5a-9b43-0b3a5c7a3f10"}
    assert client.post(address, sent).status_code == 302
    by_key = {key: used for key, used, _ in booked(job)}
    assert by_key["gloves"] == 6
    assert set(by_key) == set(boxes)
    assert StepUse.objects.filter(step=line, as_planned=False).count() == 1
    after = client.get(address).content.decode()
    assert "Undo" in after
    assert 'name="gloves"' not in after
