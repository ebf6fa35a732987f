"""What was written down wrongly is asked about at once, put right in one tap or kept, and never changed silently."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Material
from quotes import bench as b
from quotes import experience, quoting
from quotes.models import Job, Mix, Step, StepTime, StepUse
from shop.models import JournalEntry
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW
from tests.quotes.benches import step_of
from tests.quotes.conftest import take_in, with_keels_agreed
from tests.quotes.seed import KEELS

BEGINS = {"job": with_keels_agreed}
pytestmark = pytest.mark.usefixtures("standing")

D = Decimal


@pytest.fixture
def laminate(job) -> Step:
    return step_of(job, "laminate")


def mixed(step: Step, grams: str, by) -> StepUse:
    mix = b.record_mix(step=step, signed=Signed(by, NOW), resin_g=D(grams), hardener_g=D("0.4"))
    return mix.uses.get(step=step, material__key=b.doses(step)[0].resin)


def on_hand(material: Material) -> Decimal:
    return material.movements.aggregate(Sum("quantity"))["quantity__sum"]


# --- asked at once ----------------------------------------------------------------------------------------------------


def test_kilograms_for_grams_are_asked_about_before_anything_was_learned(laminate, bench):
    shown = b.doses(laminate)[0].resin_g
    use = mixed(laminate, str(shown / 1000), bench)
    [found] = experience.doubts_on(laminate)
    assert found.log == use
    assert found.fits == pytest.approx(shown, rel=D("0.02"))
    assert found.doubt.guess.startswith("Written down in kg?")
    assert StepUse.objects.get(pk=use.pk).used == use.used  # asked, not changed


def test_grams_for_kilograms_are_asked_about_in_whole_words(laminate, bench, bench_client):
    mixed(laminate, str(b.doses(laminate)[0].resin_g * 1000), bench)
    [one] = bench_client.get(reverse("step", args=[laminate.pk])).context["doubts"]
    assert one["guess"].startswith("Grams entered as if they were kg? ")
    assert one["fits"].replace("\u00a0", " ") == f"{b.doses(laminate)[0].resin_g:f} g"


@pytest.mark.parametrize("times", ["0.7", "1", "1.4"])
def test_what_fits_is_not_asked_about(laminate, bench, times):
    mixed(laminate, str(b.doses(laminate)[0].resin_g * D(times)), bench)
    assert experience.doubts_on(laminate) == []


def test_hours_for_minutes_are_asked_about(job, bench):
    step = next(one for one in job.steps.order_by("position") if 15 <= one.planned_minutes <= 60)
    hours = D(str(round(step.planned_minutes / 60, 1))) or D("0.3")
    step.job.steps.filter(position__lt=step.position).update(state=Step.State.DONE, done_at=NOW)
    b.finish_step(step=step, minutes=hours, signed=Signed(bench, NOW))
    [found] = experience.doubts_on(step)
    assert isinstance(found.log, StepTime)
    assert found.fits == hours * 60


def test_what_was_booked_as_planned_or_is_the_customers_own_is_not_asked_about(laminate, bench):
    b.use_as_planned(step=laminate, signed=Signed(bench, NOW))
    cloth = laminate.uses.filter(material__unit="m2").first().material
    b.undo_use(use=laminate.uses.first(), signed=Signed(bench, NOW))
    b.record_use(step=laminate, material=cloth, quantity=D("0.0001"), customers_own=True, signed=Signed(bench, NOW))
    assert experience.doubts_on(laminate) == []


def test_a_material_that_the_step_does_not_plan_is_not_asked_about(laminate, bench):
    other = Material.objects.exclude(key__in=[line["material"] for line in laminate.plan["materials"]]).first()
    b.record_use(step=laminate, material=other, quantity=D(1), signed=Signed(bench, NOW))
    assert experience.doubts_on(laminate) == []


def test_the_number_of_queries_does_not_grow_with_what_was_booked(laminate, bench):
    counts = []
    for grams in ("0.028", "0.029", "0.031"):
        mixed(laminate, grams, bench)
        with CaptureQueriesContext(connection) as asked:
            experience.doubts_on(laminate)
        counts.append(len(asked))
    assert len(set(counts)) == 1
    assert counts[0] <= 6


# --- put right --------------------------------------------------------------------------------------------------------


def test_a_corrected_use_is_reversed_and_booked_again_with_its_cup(laminate, bench):
    resin = Material.objects.get(key=b.doses(laminate)[0].resin)
    before = on_hand(resin)
    use = mixed(laminate, "0.028", bench)
    right = b.correct_use(use=use, quantity=D(28), signed=Signed(bench, NOW))
    assert on_hand(resin) == before - 28
    assert StepUse.objects.get(pk=use.pk).undone_at == NOW
    assert right.used == 28
    hardener = right.mix.uses.get(undone_at__isnull=True, material__key=b.doses(laminate)[0].hardener)
    assert hardener.used == use.mix.uses.get(material=hardener.material).used
    assert experience.doubts_on(laminate) == []
    said = JournalEntry.objects.get(verb="use.correct").words.replace("\u00a0", " ")
    assert said.endswith("0.028 g is 28 g")


def test_a_corrected_cup_for_two_boards_keeps_its_proportion(job, versions, counter, bench):
    takein = take_in(counter)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=KEELS, signed=Signed(counter, NOW)
    )
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    other = step_of(b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter"), "laminate")
    mine = step_of(job, "laminate")
    mix = b.record_mix(
        step=mine, signed=Signed(bench, NOW), resin_g=D("0.06"), hardener_g=D("0.9"), shares={mine: D(20), other: D(40)}
    )
    use = mix.uses.get(step=mine, material__key=b.doses(mine)[0].resin)
    right = b.correct_use(use=use, quantity=use.used * 1000, signed=Signed(bench, NOW))
    amounts = dict(
        StepUse.objects.filter(mix=right.mix, material=use.material, undone_at__isnull=True).values_list("step", "used")
    )
    assert amounts == {mine.pk: D(20), other.pk: D(40)}


def test_corrected_minutes_keep_the_rates_of_their_day(job, bench):
    step = job.steps.order_by("position").first()
    b.finish_step(step=step, minutes=D("0.5"), signed=Signed(bench, NOW))
    old = step.times.get()
    right = b.correct_minutes(time=old, minutes=D(30), signed=Signed(bench, NOW))
    assert (right.minutes, right.wage_per_hour, right.day) == (30, old.wage_per_hour, old.day)
    assert step.times.get(replaced_at__isnull=True) == right
    with pytest.raises(Refused, match="already corrected"):
        b.correct_minutes(time=old, minutes=D(20), signed=Signed(bench, NOW))


@pytest.mark.parametrize("wrong", ["0", "-1"])
def test_nothing_is_corrected_to_nothing(laminate, bench, wrong):
    use = mixed(laminate, "28", bench)
    with pytest.raises(Refused, match="above zero"):
        b.correct_use(use=use, quantity=D(wrong), signed=Signed(bench, NOW))
    assert StepUse.objects.get(pk=use.pk).undone_at is None


# --- kept -------------------------------------------------------------------------------------------------------------


def test_what_was_said_to_be_right_is_not_asked_about_again(laminate, bench):
    use = mixed(laminate, "0.028", bench)
    b.said_right(log=use, signed=Signed(bench, NOW))
    assert experience.doubts_on(laminate) == []
    assert StepUse.objects.get(pk=use.pk).used == D("0.028")
    assert JournalEntry.objects.filter(verb="log.confirm").count() == 1
    later = mixed(laminate, "0.028", bench)  # another wrong one is another question
    assert [one.log for one in experience.doubts_on(laminate)] == [later]


def test_what_was_undone_is_no_question_any_more(laminate, bench):
    use = mixed(laminate, "0.028", bench)
    b.undo_use(use=use, signed=Signed(bench, NOW))
    assert experience.doubts_on(laminate) == []
    with pytest.raises(Refused, match="taken back"):
        b.said_right(log=StepUse.objects.get(pk=use.pk), signed=Signed(bench, NOW))


# --- pages ------------------------------------------------------------------------------------------------------------


def test_one_tap_corrects_at_the_bench(laminate, bench, bench_client, form_key):
    page = reverse("step", args=[laminate.pk])
    shown = f"{b.doses(laminate)[0].resin_g:f}"
    laminate.job.steps.filter(position__lt=laminate.position).update(state=Step.State.DONE, done_at=NOW)
    sent = {"submission_key": form_key(), "resin_g": f"{D(shown) / 1000}", "hardener_g": "0.42"}
    answer = bench_client.post(reverse("mix-new", args=[laminate.pk]), sent)
    assert answer.url == page
    html = bench_client.get(page).content.decode()
    assert f"It was {shown} g" in html.replace("\u00a0", " ")
    [one] = bench_client.get(page).context["doubts"]
    bench_client.post(one["correct"], {"submission_key": form_key(), **one["values"]})
    assert bench_client.get(page).context["doubts"] == []
    resin = b.doses(laminate)[0].resin
    assert laminate.uses.get(undone_at__isnull=True, material__key=resin).used == D(shown)
    assert Mix.objects.count() == 2


def test_one_tap_keeps_at_the_bench(laminate, bench, bench_client, form_key):
    mixed(laminate, "0.028", bench)
    page = reverse("step", args=[laminate.pk])
    [one] = bench_client.get(page).context["doubts"]
    assert bench_client.post(one["right"], {"submission_key": form_key()}).url == page
    assert bench_client.get(page).context["doubts"] == []


def test_wrong_minutes_are_asked_about_before_the_next_step(job, bench_client, form_key):
    step = job.steps.order_by("position").first()
    sent = {"submission_key": form_key(), "minutes": "480"}
    answer = bench_client.post(reverse("step-done", args=[step.pk]), sent)
    assert answer.url == reverse("step", args=[step.pk])
    [one] = bench_client.get(answer.url).context["doubts"]
    assert one["said"].replace("\u00a0", " ") == "480 min"
    assert Job.objects.get(pk=job.pk).steps.get(pk=step.pk).state == Step.State.DONE
