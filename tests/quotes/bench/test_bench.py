"""From the customer's yes to ready: steps in their windows, what is really used, and what hands may undo."""

from __future__ import annotations

import threading
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connections
from django.urls import reverse

from inventory.counting import weighing
from inventory.models import Material, StockQuestion
from inventory.stock import books
from quotes import bench as b
from quotes import quoting
from quotes.models import Extra, Job, Mix, Step, StepUse
from shop.models import JournalEntry, LabourRate
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, make_user
from tests.quotes import seed
from tests.quotes.benches import RAIL_DING, all_ticked, step_of, work_through
from tests.quotes.conftest import refusal

HOUR = timedelta(hours=1)


def on_hand(key: str) -> Decimal:
    return Material.objects.with_stock().get(key=key).on_hand


def done(step: Step, by, at=NOW, minutes="10", **more) -> Step:
    return b.finish_step(step=step, minutes=Decimal(minutes), signed=Signed(by, at), **more)


# The yes


def test_an_agreed_way_becomes_a_job_with_its_steps_and_its_promise(job, sent):
    snapshot = job.way.parts.get().snapshot
    assert [step.title for step in job.steps.all()] == [plan["title"] for plan in snapshot["steps"]]
    assert [step.position for step in job.steps.all()] == list(range(1, len(snapshot["steps"]) + 1))
    assert job.promised_on == job.way.ready_on
    assert (job.takein.tag, job.state) == ("001", Job.State.OPEN)
    sent.refresh_from_db()
    assert sent.state == sent.State.AGREED


def test_a_yes_that_comes_late_is_promised_for_a_day_that_can_be_kept(quote, counter):
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    way = quote.boards.get().ways.get(position=1)
    assert quoting.day_to_promise(way, NOW).day == way.ready_on
    late = NOW + timedelta(days=9)
    day = quoting.day_to_promise(way, late).day
    assert day > way.ready_on
    job = b.accept_way(way=way, signed=Signed(counter, late), how="by phone")
    assert job.promised_on == day


def test_a_ready_day_given_by_hand_stands_until_it_is_over(quote, counter):
    by_hand = NOW.date() + timedelta(days=5)
    way = quote.boards.get().ways.get(position=1)
    way = quoting.edit_way(way=way, signed=Signed(counter, NOW), title=way.title, words=way.words, ready_on=by_hand)
    assert quoting.day_to_promise(way, NOW + timedelta(days=4)).day == by_hand
    assert quoting.day_to_promise(way, NOW + timedelta(days=6)).day >= (NOW + timedelta(days=6)).date()


def test_the_day_said_with_the_yes_is_what_is_promised(quote, counter):
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    way = quote.boards.get().ways.get(position=1)
    over = TODAY - timedelta(days=1)
    said = refusal(lambda: b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", promised_on=over))
    assert "lies in the past" in said["promised_on"][0]
    assert not Job.objects.exists()
    said = NOW.date() + timedelta(days=40)
    assert b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", promised_on=said).promised_on == said


def test_a_second_yes_to_the_same_way_gives_the_same_job(job, counter):
    again = b.accept_way(way=job.way, signed=Signed(counter, NOW + HOUR), how="by phone")
    assert again == job
    assert Job.objects.count() == 1
    assert job.steps.count() == Step.objects.count()


def test_another_way_of_the_same_board_cannot_be_accepted_as_well(job, counter):
    other = job.quoted.ways.get(position=1)
    assert (
        "already agreed"
        in refusal(lambda: b.accept_way(way=other, signed=Signed(counter, NOW), how="by phone"))["__all__"][0]
    )
    assert Job.objects.count() == 1


def test_a_draft_is_not_accepted_unless_it_was_agreed_at_the_counter(quote, stocked, counter):
    way = quote.boards.get().ways.get(position=1)
    assert refusal(lambda: b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone"))
    assert not Job.objects.exists()
    assert b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter", spoken=True).steps.exists()


def test_the_bench_does_not_accept_ways(sent, bench):
    with pytest.raises(PermissionDenied):
        b.accept_way(way=sent.boards.get().ways.get(position=1), signed=Signed(bench, NOW), how="at the counter")


@pytest.mark.django_db(transaction=True)
def test_two_windows_that_accept_at_once_make_one_job(sent, stocked, counter):
    way = sent.boards.get().ways.get(position=2)
    made, gate = [], threading.Barrier(2)

    def accept():
        try:
            gate.wait(10)
            made.append(b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter").pk)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=accept) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 2
    assert len(set(made)) == 1
    assert Job.objects.count() == 1


# Windows


def test_a_step_gets_its_window_when_the_one_before_is_done(job, bench):
    foam, level = step_of(job, "pour-foam"), step_of(job, "level")
    assert (level.earliest_at, level.latest_at) == (None, None)
    done(foam, bench, at=NOW)
    level.refresh_from_db()
    assert level.earliest_at == NOW + 24 * HOUR  # foam is cut after a day; common practice, no source
    assert b.waits(level, NOW + HOUR)
    assert not b.waits(level, NOW + 24 * HOUR)


def test_nothing_is_begun_while_it_cures_unless_somebody_tried_it(job, bench):
    foam, level = step_of(job, "pour-foam"), step_of(job, "level")
    done(foam, bench)
    level.refresh_from_db()
    assert "cures until" in refusal(lambda: b.start_step(step=level, signed=Signed(bench, NOW + HOUR)))["__all__"][0]
    assert b.start_step(step=level, signed=Signed(bench, NOW + HOUR), early=True).state == Step.State.DOING


def test_past_its_window_a_step_is_sanded_first_with_minutes_and_the_reason(job, bench):
    laminate, coat = step_of(job, "laminate"), step_of(job, "hot-coat")
    done(laminate, bench)
    coat.refresh_from_db()
    too_late = coat.latest_at + timedelta(minutes=1)
    assert not b.late(coat, coat.latest_at)
    sanding = b.start_step(step=coat, signed=Signed(bench, too_late))
    assert sanding.operation == "sand"
    assert sanding.state == Step.State.DOING
    assert sanding.instruction.startswith("The window ended")
    assert "sand it first" in sanding.instruction
    assert sanding.planned_minutes > 4  # four minutes to set up, then P120 over the place; common practice, no source
    assert next(line["material"] for line in sanding.plan["materials"]) == "disc-p120"
    coat.refresh_from_db()
    assert coat.position == sanding.position + 1
    assert (coat.state, coat.latest_at) == (Step.State.TODO, None)
    done(sanding, bench, at=too_late + HOUR)
    coat.refresh_from_db()
    assert not b.late(coat, too_late + HOUR)
    assert b.start_step(step=coat, signed=Signed(bench, coat.earliest_at)).pk == coat.pk


def test_two_repairs_on_one_board_do_not_wait_for_each_other(takein, versions, stocked, counter, bench):
    from quotes import quoting

    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW)
    )
    quoting.add_part(way=way, version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW))
    job = b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter", spoken=True)
    assert len(b.heads(job.steps.all())) == 1  # one look at both
    done(step_of(job, "inspect"), bench)
    assert len(b.heads(job.steps.all())) == 2
    done(step_of(job, "rout"), bench)
    done(step_of(job, "pour-foam"), bench)
    now = NOW + HOUR
    first = b.next_step(job.steps.all(), now)
    assert not b.waits(first, now)
    assert first.part != step_of(job, "pour-foam").part
    assert b.heads(job.steps.all()) == [first]  # both are levelled together, once both are filled


def test_the_running_window_goes_before_what_has_time(job, bench):
    done(step_of(job, "laminate"), bench)
    steps = list(job.steps.all())
    coat = next(step for step in steps if step.operation == "hot-coat")
    other = Step(job=job, part_id=None, position=500, operation="extra", title="Screw the fins in", state="todo")
    for before in [step for step in steps if step.position < coat.position]:
        before.state = Step.State.DONE
    assert b.next_step([*steps, other], NOW + 2 * HOUR) == coat
    assert b.next_step([*steps, other], NOW + timedelta(minutes=5)) == other


# Minutes


def test_minutes_are_kept_at_the_wage_and_overhead_of_the_day(job, bench):
    LabourRate.objects.create(person=bench, wage_per_hour=Decimal("26"), from_day=TODAY)
    done(step_of(job, "inspect"), bench, minutes="12.5")
    time = step_of(job, "inspect").times.get()
    assert (time.minutes, time.wage_per_hour, time.overhead_per_hour) == (Decimal("12.5"), 26, 9)  # 1080 over 120 h
    LabourRate.objects.create(person=bench, wage_per_hour=Decimal("40"), from_day=TODAY + timedelta(days=1))
    time.refresh_from_db()
    assert time.wage_per_hour == 26


def test_a_step_is_done_once(job, bench):
    step = step_of(job, "inspect")
    done(step, bench)
    assert "already done" in refusal(lambda: done(step, bench))["__all__"][0]
    assert step.times.count() == 1


@pytest.mark.parametrize("minutes", ["0", "-5"])
def test_a_step_takes_minutes(job, bench, minutes):
    assert "above zero" in refusal(lambda: done(step_of(job, "inspect"), bench, minutes=minutes))["minutes"][0]
    assert step_of(job, "inspect").state == Step.State.TODO
    assert not StepUse.objects.exists()


def test_a_step_can_be_opened_again_until_the_next_one_is_begun(job, bench):
    foam, level = step_of(job, "pour-foam"), step_of(job, "level")
    done(foam, bench)
    b.reopen_step(step=foam, signed=Signed(bench, NOW + HOUR))
    foam.refresh_from_db()
    level.refresh_from_db()
    assert (foam.state, foam.done_at, level.earliest_at) == (Step.State.DOING, None, None)
    assert foam.times.get().replaced_at == NOW + HOUR
    done(foam, bench, at=NOW + HOUR, minutes="14")
    b.start_step(step=level, signed=Signed(bench, NOW + 30 * HOUR))
    assert (
        "already begun"
        in refusal(lambda: b.reopen_step(step=foam, signed=Signed(bench, NOW + 30 * HOUR)))["__all__"][0]
    )


def test_a_step_that_is_not_needed_says_why_and_hands_its_wait_on(job, bench):
    foam, level, sand = step_of(job, "pour-foam"), step_of(job, "level"), step_of(job, "sand")
    done(step_of(job, "inspect"), bench)
    done(step_of(job, "rout"), bench)
    done(foam, bench)
    assert (
        "Reason is empty"
        in refusal(lambda: b.drop_step(step=level, reason=" ", signed=Signed(bench, NOW)))["reason"][0]
    )
    level.refresh_from_db()
    b.drop_step(step=level, reason="came out flush", signed=Signed(bench, NOW + HOUR))
    sand.refresh_from_db()
    assert sand.earliest_at == NOW + 24 * HOUR
    assert step_of(job, "level").note == "Left out: came out flush"


# What is really used


def test_mixed_as_shown_books_what_the_scale_shows(job, bench):
    laminate = step_of(job, "laminate")
    [dose] = b.doses(laminate)
    before = on_hand("resin-lam"), on_hand("mekp")
    mix = b.record_mix(step=laminate, signed=Signed(bench, NOW))
    assert dose.resin_g == round(Decimal(str(laminate.plan["mixes"][0]["resin_g"])))
    assert before[0] - on_hand("resin-lam") == dose.resin_g
    # catalyst is weighed and kept in mL: 1100 kg/m³ (from memory), so grams / 1.1
    assert before[1] - on_hand("mekp") == (dose.hardener_g / Decimal("1.1")).quantize(Decimal("0.001"))
    assert set(mix.uses.values_list("as_planned", flat=True)) == {True}


def test_a_use_costs_what_its_lot_cost(job, bench):
    # Laminating resin at 0.0068 a gram: 40 g cost 0.272 (packs of 1000 g at 6.80).
    laminate = step_of(job, "laminate")
    use = b.record_use(
        step=laminate, material=Material.objects.get(key="resin-lam"), quantity=Decimal(40), signed=Signed(bench, NOW)
    )
    assert use.cost == Decimal("0.272")
    assert use.planned > 20
    more = b.record_use(step=laminate, material=use.material, quantity=Decimal(5), signed=Signed(bench, NOW + HOUR))
    assert more.planned == 0
    line = next(line for line in b.planned_and_used(laminate) if line.material.key == "resin-lam")
    assert (line.used, line.left) == (45, 0)


def test_real_use_is_never_refused_and_asks_where_it_came_from(job, bench):
    cloth = Material.objects.get(key="cloth-6oz")
    more = on_hand("cloth-6oz") + 1
    use = b.record_use(step=step_of(job, "laminate"), material=cloth, quantity=more, signed=Signed(bench, NOW))
    assert use.used == more
    assert on_hand("cloth-6oz") == 0
    assert StockQuestion.objects.open().filter(material=cloth).count() == 1
    assert books.problems() == []


def test_the_customers_own_material_is_written_down_without_a_value(job, bench):
    box = Material.objects.get(key="fin-box")
    before = on_hand("fin-box")
    use = b.record_use(
        step=step_of(job, "set-out"), material=box, quantity=Decimal(1), signed=Signed(bench, NOW), customers_own=True
    )
    assert (use.cost, use.movements.count(), on_hand("fin-box")) == (0, 0, before)


@pytest.mark.parametrize("amount", ["0", "-3"])
def test_nothing_is_not_a_use(job, bench, amount):
    material = Material.objects.get(key="cup")
    assert refusal(
        lambda: b.record_use(
            step=step_of(job, "laminate"), material=material, quantity=Decimal(amount), signed=Signed(bench, NOW)
        )
    )["quantity"]
    assert not StepUse.objects.exists()


def test_as_planned_books_the_whole_step_in_one_tap_and_takes_it_back_in_one(job, bench):
    before = {row.key: row.on_hand for row in Material.objects.with_stock()}
    laminate = step_of(job, "laminate")
    uses = b.use_as_planned(step=laminate, signed=Signed(bench, NOW))
    assert {use.material.key for use in uses} == {
        line["material"] for line in laminate.plan["materials"] if line["planned"]
    }
    assert all(use.as_planned for use in uses)
    assert on_hand("resin-lam") < before["resin-lam"]
    assert (
        "booked already"
        in refusal(lambda: b.use_as_planned(step=laminate, signed=Signed(bench, NOW + HOUR)))["__all__"][0]
    )
    b.undo_use(use=uses[0], signed=Signed(bench, NOW + HOUR))
    assert {row.key: row.on_hand for row in Material.objects.with_stock()} == before
    assert not StepUse.objects.filter(undone_at__isnull=True).exists()
    assert "already undone" in refusal(lambda: b.undo_use(use=uses[1], signed=Signed(bench, NOW + HOUR)))["__all__"][0]
    assert books.problems() == []


def test_finishing_a_step_books_only_what_was_not_booked_yet(job, bench):
    laminate = step_of(job, "laminate")
    b.record_mix(step=laminate, resin_g=Decimal(31), hardener_g=Decimal("0.6"), signed=Signed(bench, NOW))
    done(laminate, bench, at=NOW + HOUR)
    resin = laminate.uses.filter(material__key="resin-lam")
    assert [(use.used, use.as_planned) for use in resin] == [(31, False)]
    assert laminate.uses.filter(material__key="cloth-6oz").get().as_planned
    bare = step_of(job, "hot-coat")
    done(bare, bench, at=NOW + 2 * HOUR, rest_as_planned=False)
    assert not bare.uses.exists()


def test_one_cup_serves_two_boards_by_weight_and_its_loss_is_shared(job, versions, counter, bench):
    from quotes import quoting
    from tests.quotes.conftest import take_in

    other = take_in(counter, brought_by=seed.customer("Tomás"), board=seed.fish())
    quote = quoting.start_quote(takeins=[other], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW)
    )
    second = b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter", spoken=True)
    mine, theirs = step_of(job, "laminate"), second.steps.filter(operation="laminate").first()
    # 40 g in the cup; 20 g went onto one board, 10 g onto the other, 10 g stayed in the cup: shares 2 to 1.
    mix = b.record_mix(
        step=mine, resin_g=Decimal(40), hardener_g=Decimal("0.8"), signed=Signed(bench, NOW), shares={mine: Decimal(20), theirs: Decimal(10)},
    )  # fmt: skip
    resin = {use.step: use.used for use in mix.uses.filter(material__key="resin-lam")}
    assert resin == {mine: Decimal("26.667"), theirs: Decimal("13.333")}
    assert sum(resin.values()) == 40
    catalyst = mix.uses.filter(material__key="mekp")
    assert sum(use.used for use in catalyst) == (Decimal("0.8") / Decimal("1.1")).quantize(Decimal("0.001"))
    undone = b.undo_use(use=mix.uses.first(), signed=Signed(bench, NOW + HOUR))
    assert len(undone) == 4
    assert books.problems() == []


@pytest.mark.parametrize(
    ("resin", "hardener", "field"), [("0", "1", "resin_g"), ("-5", "1", "resin_g"), ("20", "-1", "hardener_g")]
)
def test_a_mix_weighs_something(job, bench, resin, hardener, field):
    laminate = step_of(job, "laminate")
    said = refusal(
        lambda: b.record_mix(
            step=laminate, resin_g=Decimal(resin), hardener_g=Decimal(hardener), signed=Signed(bench, NOW)
        )
    )
    assert list(said) == [field]
    assert not Mix.objects.exists()


# Done again


def test_a_step_done_again_says_whose_fault_and_comes_next(job, bench):
    coat, sand = step_of(job, "hot-coat"), step_of(job, "sand", 1)
    done(coat, bench)
    again = b.redo_step(step=coat, cause="ours", billed=False, reason="fish eyes", signed=Signed(bench, NOW + HOUR))
    assert (again.redo_of, again.redo_cause, again.redo_billed) == (coat, "ours", False)
    sand.refresh_from_db()
    assert (sand.position, sand.earliest_at) == (again.position + 1, None)
    assert again.plan == coat.plan
    assert not Extra.objects.exists()
    assert (
        "whose"
        in refusal(lambda: b.redo_step(step=coat, cause="", billed=False, reason="x", signed=Signed(bench, NOW)))[
            "cause"
        ][0]
    )


def test_a_step_done_again_for_the_customer_becomes_something_to_price(job, bench):
    coat = step_of(job, "hot-coat")
    done(coat, bench)
    b.redo_step(step=coat, cause="customer", billed=True, reason="board was leant on", signed=Signed(bench, NOW))
    assert Extra.objects.get().state == Extra.State.FOUND
    assert "leant on" in Extra.objects.get().words


# Ready


def test_ready_needs_every_step_every_answer_and_every_line(job, bench, counter):
    early = refusal(lambda: b.finish_job(job=job, checks=all_ticked(job), signed=Signed(bench, NOW)))
    assert "still ahead" in early["__all__"][0]
    at = work_through(job, bench)
    extra = b.note_found(job=job, words="Leash plug is loose", signed=Signed(bench, at))
    assert "no answer yet" in b.can_finish_job(job).why
    b.answer_extra(extra=extra, agreed=False, how="leaves it as it is", signed=Signed(counter, at))
    checks = all_ticked(job)
    checks[2] = {**checks[2], "ok": False}
    assert list(refusal(lambda: b.finish_job(job=job, checks=checks, signed=Signed(bench, at)))) == ["checks.2"]
    job.refresh_from_db()
    assert job.state == Job.State.OPEN
    checks[2]["reason"] = "old fillet, left as it was"
    b.finish_job(job=job, checks=checks, signed=Signed(bench, at), minutes=Decimal(8))
    job.refresh_from_db()
    assert (job.state, job.finished_at) == (Job.State.FINISHED, at)
    assert job.release_check[2]["reason"] == "old fillet, left as it was"
    assert step_of(job, "release").times.get().minutes == 8


def test_the_release_check_is_that_of_the_recipe(job):
    assert b.release_lines(job)[0] == "Fin pulled by hand, both ways"


def test_who_did_what_is_in_the_journal_without_the_customers_name(job, bench):
    done(step_of(job, "inspect"), bench)
    words = list(JournalEntry.objects.filter(about=f"quotes.job:{job.pk}").values_list("words", "by__role"))
    assert ("Did “Inspect, rinse off salt, check for water” on 001", "bench") in words
    assert not any("Brennock" in entry for entry, _ in words)


def test_a_person_who_has_left_does_nothing_more(job):
    gone = make_user("bench")
    gone.is_active = False
    gone.save()
    with pytest.raises(PermissionDenied):
        done(step_of(job, "inspect"), gone)


# The scale at the store, for a step


@pytest.fixture
def tin(job, keeper):
    lot = Material.objects.get(key="resin-lam").lots.get()
    holds = lot.quantity_left
    return weighing.add_container(lot=lot, name="tin", tare_g=Decimal(400), holds=holds, signed=Signed(keeper, NOW))


def test_a_tin_weighed_after_a_mix_is_off_the_shelf_and_on_the_job(job, tin, bench):
    step = step_of(job, "laminate")
    [dose] = b.doses(step)
    before, full = on_hand("resin-lam"), tin.tare_g + tin.lot.quantity_left
    took = {"step": step, "container": tin}
    use = b.use_by_weight(gross_g=full - 60, signed=Signed(bench, NOW + HOUR), **took)
    assert (use.used, on_hand("resin-lam")) == (60, before - 60)
    assert use.mix is not None
    catalyst = StepUse.objects.get(mix=use.mix, material__key=dose.hardener)
    exact = step.plan["mixes"][0]["catalyst_g"] * 60 / step.plan["mixes"][0]["resin_g"]
    assert float(catalyst.used) == pytest.approx(exact / float(catalyst.material.density_kg_m3) * 1000, abs=0.005)
    assert use.movements.get().lot == tin.lot
    again = refusal(lambda: b.use_by_weight(gross_g=full - 60, signed=Signed(bench, NOW + 2 * HOUR), **took))
    assert "nothing was used" in again["gross"][0]
    assert StepUse.objects.filter(step=step).count() == 2
    right = b.correct_use(use=use, quantity=Decimal(50), signed=Signed(bench, NOW + 3 * HOUR))
    assert right.movements.get().happened_at == NOW + HOUR, "it left the shelf when it was weighed"
    assert books.problems() == []


def test_what_is_no_mix_is_weighed_as_a_material(job, keeper, bench):
    cloth = next(line.material for line in b.planned_and_used(step_of(job, "laminate")) if line.material.unit == "m2")
    lot = cloth.lots.get()
    roll = weighing.add_container(
        lot=lot, name="roll", tare_g=Decimal(300), holds=lot.quantity_left, signed=Signed(keeper, NOW)
    )
    full = roll.weighings.get().gross_g
    step = step_of(job, "laminate")
    use = b.use_by_weight(step=step, container=roll, gross_g=full - 50, signed=Signed(bench, NOW + HOUR))
    assert use.mix is None
    assert float(use.used) == pytest.approx(50 / float(cloth.areal_weight_g_m2))


def test_the_scale_offers_the_steps_that_ask_for_what_is_on_it(job, tin, bench_client, form_key):
    address = reverse("weigh-for-step", args=[tin.pk])
    step = step_of(job, "laminate")
    assert address in bench_client.get(reverse("step-use", args=[step.pk])).content.decode()
    assert step in b.steps_that_take(tin.lot.material)
    assert step.title in bench_client.get(address).content.decode()
    entries = {"gross": f"{tin.tare_g + tin.lot.quantity_left - 45} g", "step": step.pk}
    answer = bench_client.post(address, {**entries, "submission_key": form_key()})
    assert answer["Location"] == reverse("step", args=[step.pk])
    assert StepUse.objects.get(step=step, material=tin.lot.material).used == 45
    wrong = bench_client.post(address, {**entries, "gross": "full", "submission_key": form_key()})
    assert wrong.status_code == 422
