"""The bench's pages as gloved hands meet them.

One step at a time, booked at once, undone at once, nothing typed lost.
"""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.models import Material
from quotes import bench as b
from quotes.models import Extra, Job, JobSheet, Mix, Step, StepUse
from shop.models import JournalEntry
from shop.platform.acts import Signed
from tests.quotes.benches import step_of, work_through
from tests.quotes.conftest import with_keels_agreed
from tests.reading import says

BEGINS = {"job": with_keels_agreed}
pytestmark = pytest.mark.usefixtures("standing")

D = Decimal


def post(client, form_key, address, **entries):
    return client.post(address, {"submission_key": form_key(), **entries})


def summary(answer) -> list[str]:
    """The sentences of the error summary."""
    box = re.search(r'<div class="error-summary".*?</ul>', answer.content.decode(), re.S)
    return re.findall(r"<li>\s*(?:<a[^>]*>)?([^<]+)", box.group(0)) if box else []


@pytest.fixture
def laminate(job, bench):
    """The job with the lamination next in line."""
    for step in job.steps.order_by("position"):
        if step.operation == "laminate":
            return step
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, timezone.now()), rest_as_planned=False)


def test_a_step_shows_its_dose_its_window_and_its_cautions(laminate, bench_client):
    page = says(bench_client.get(f"/step/{laminate.pk}/"))
    [dose] = b.doses(laminate)
    assert f"<dd>{dose.resin_g} g</dd>" in page.replace("\xa0", " ")
    assert "Gels in" in page
    assert "MEKP blinds" in page
    assert page.count("safety data sheet") == 1
    assert "Next, hot coat: from" in page
    assert "or sand first" in page


def test_a_step_begun_by_a_tap_is_timed_until_it_is_done(job, bench_client, form_key):
    step = job.steps.order_by("position").first()
    page = f"/step/{step.pk}/"
    assert "Begin, and time it" in says(bench_client.get(page))
    assert f"Left empty, {round(step.planned_minutes)} as planned" in says(bench_client.get(page))
    assert post(bench_client, form_key, f"{page}start/")["Location"] == page
    began = timezone.now() - timedelta(minutes=23, seconds=6)
    Step.objects.filter(pk=step.pk).update(started_at=began)
    shown = bench_client.get(page)
    assert "Begin, and time it" not in says(shown)
    assert f"Left empty, all since {timezone.localtime(began):%H:%M}" in says(shown)
    assert not shown.context["done_form"]["minutes"].value()
    answer = bench_client.post(f"{page}done/", {"submission_key": form_key(), "minutes": ""}, follow=True)
    assert f"Done: {step.title}, 23.1 min." in says(answer)
    assert step.times.get().minutes == D("23.1")
    assert b.own_minutes(step.times.get())


def test_minutes_typed_go_before_the_clock_and_a_clock_left_on_over_night_is_not_asked(job, bench_client, form_key):
    first, second = job.steps.order_by("position")[:2]
    b.start_step(step=first, signed=Signed(job.by, timezone.now() - timedelta(minutes=50)))
    post(bench_client, form_key, f"/step/{first.pk}/done/", minutes="12")
    assert first.times.get().minutes == 12
    b.start_step(step=second, signed=Signed(job.by, timezone.now() - timedelta(hours=15)), early=True)
    shown = bench_client.get(f"/step/{second.pk}/")
    assert f"Left empty, {max(1, round(second.planned_minutes))} as planned" in says(shown)
    assert post(bench_client, form_key, f"/step/{second.pk}/done/", minutes="").status_code == 302
    time = second.times.get()
    assert (time.minutes, time.typed) == (b.planned_minutes(second), False)


def test_a_step_that_a_mix_began_or_that_was_done_before_stands_as_planned(laminate, bench, bench_client, form_key):
    [dose] = b.doses(laminate)
    page = f"/step/{laminate.pk}/"
    shown = {"resin_g": f"{dose.resin_g}", "hardener_g": f"{dose.hardener_g}"}
    post(bench_client, form_key, f"{page}mix/", **shown)
    planned = f"Left empty, {round(laminate.planned_minutes)} as planned"
    assert planned in says(bench_client.get(page))
    Step.objects.filter(pk=laminate.pk).update(started_at=timezone.now() - timedelta(minutes=30))
    assert "Left empty, all since" in says(bench_client.get(page))
    post(bench_client, form_key, f"{page}done/", minutes="30")
    post(bench_client, form_key, f"{page}not-done/")
    assert Step.objects.get(pk=laminate.pk).state == Step.State.DOING
    assert planned in says(bench_client.get(page))


def test_as_planned_is_offered_while_something_is_left(laminate, bench_client, form_key):
    page = f"/step/{laminate.pk}/"
    assert "All as planned" in says(bench_client.get(page))
    post(bench_client, form_key, f"{page}as-planned/")
    assert "All as planned" not in says(bench_client.get(page))
    assert all(line.used for line in bench_client.get(page).context["planned"])


def test_mixed_as_shown_is_one_tap_and_undone_in_one(laminate, bench_client, form_key):
    [dose] = b.doses(laminate)
    shown = {"resin_g": f"{dose.resin_g}", "hardener_g": f"{dose.hardener_g}"}
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **shown)
    assert (answer.status_code, answer["Location"]) == (302, f"/step/{laminate.pk}/")
    laminate.refresh_from_db()
    assert laminate.state == Step.State.DOING
    assert Mix.objects.get().uses.first().as_planned
    page = says(bench_client.get(f"/step/{laminate.pk}/"))
    assert "Booked" in page
    assert "Mixed as shown" not in page
    use = StepUse.objects.first()
    post(bench_client, form_key, f"/step/use/{use.pk}/undo/")
    assert not StepUse.objects.filter(undone_at__isnull=True).exists()
    assert "Mixed as shown" in says(bench_client.get(f"/step/{laminate.pk}/"))


def test_a_double_tap_mixes_once(laminate, bench_client, form_key):
    entries = {"submission_key": form_key(), "resin_g": "25", "hardener_g": "0.4"}
    for _ in range(2):
        assert bench_client.post(f"/step/{laminate.pk}/mix/", entries).status_code == 302
    assert Mix.objects.count() == 1


WRONG = [
    ("", "is empty"),
    ("-5", "must not be below zero"),
    ("lots", "cannot be read"),
    ("25 mL", "must be a weight, like 28; 25 mL is a volume"),
    ("1,500", "does 1,500 mean"),
    ("9" * 10_000, "too long"),
    ("9**9**9 m", "cannot be read"),
    ("<b>25</b>", "cannot be read"),
]


@pytest.mark.parametrize(("typed", "says_so"), WRONG)
def test_a_wrong_weight_is_a_sentence_and_the_rest_stays(laminate, bench_client, form_key, typed, says_so):
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", resin_g=typed, hardener_g="0.41")
    assert answer.status_code == 422
    sentences = summary(answer)
    assert len(sentences) == 1
    page = says(answer)
    assert 'value="0.41"' in page
    assert "<title>Error: " in page
    assert "<b>25</b>" not in page
    assert not Mix.objects.exists()
    laminate.refresh_from_db()
    assert laminate.state == Step.State.TODO
    assert says_so in sentences[0]


def test_an_odd_weight_is_asked_about_once_then_taken(laminate, bench_client, form_key):
    entries = {"resin_g": "2500", "hardener_g": "50"}
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **entries)
    assert answer.status_code == 422
    assert "unusual" in summary(answer)[0]
    assert not Mix.objects.exists()
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **entries, odd_resin_g="on")
    assert answer.status_code == 302
    assert StepUse.objects.get(material__key="resin-lam").used == 2500


def test_grams_may_be_typed_as_people_write_them(laminate, bench_client, form_key):
    post(bench_client, form_key, f"/step/{laminate.pk}/mix/", resin_g="1 oz", hardener_g="0,5 g")
    used = dict(StepUse.objects.values_list("material__key", "used"))
    assert used["resin-lam"] == D("28.350")  # 28.349523 g, NIST SP 811, appendix B
    assert used["mekp"] == D("0.455")


def test_a_step_is_done_with_its_minutes_and_leads_to_the_next(laminate, bench_client, form_key):
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/done/", minutes="24", rest="on", note="edges dry")
    assert answer.status_code == 302
    laminate.refresh_from_db()
    assert (laminate.state, laminate.note) == (Step.State.DONE, "edges dry")
    assert laminate.times.get().minutes == 24
    assert laminate.uses.filter(material__key="resin-lam").exists()
    assert answer["Location"] == f"/job/{laminate.job_id}/"  # the coat must wait
    page = says(bench_client.get(f"/job/{laminate.job_id}/"))
    assert "Look at the next step" in page


@pytest.mark.parametrize("typed", ["0", "-3", "ten", "20 g", "9" * 10_000])
def test_wrong_minutes_are_a_sentence_and_nothing_is_booked(laminate, bench_client, form_key, typed):
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/done/", minutes=typed, rest="on", note="kept words")
    assert answer.status_code == 422
    assert summary(answer)[0].startswith("Minutes")
    assert "kept words" in says(answer)
    laminate.refresh_from_db()
    assert laminate.state == Step.State.TODO
    assert not laminate.uses.exists()


def test_a_step_that_must_wait_offers_no_mixing_but_may_be_begun_early(laminate, bench, bench_client, form_key):
    b.finish_step(step=laminate, minutes=D(20), signed=Signed(bench, timezone.now()))
    coat = step_of(laminate.job, "hot-coat")
    page = says(bench_client.get(f"/step/{coat.pk}/"))
    assert "Mixed as shown" not in page
    assert "begin now" in page
    answer = post(bench_client, form_key, f"/step/{coat.pk}/start/")
    assert answer.status_code == 302
    assert "cures until" in says(bench_client.get(answer["Location"]))
    post(bench_client, form_key, f"/step/{coat.pk}/start/", early="1")
    coat.refresh_from_db()
    assert coat.state == Step.State.DOING


def test_a_missed_window_leads_to_the_sanding(laminate, bench, bench_client, form_key):
    now = timezone.now()
    b.finish_step(step=laminate, minutes=D(20), signed=Signed(bench, now))
    coat = step_of(laminate.job, "hot-coat")
    Step.objects.filter(pk=coat.pk).update(
        earliest_at=now - timezone.timedelta(hours=40), latest_at=now - timezone.timedelta(hours=10)
    )
    page = says(bench_client.get(f"/step/{coat.pk}/"))
    assert "Sand first" in page
    assert "Mixed as shown" not in page
    answer = post(bench_client, form_key, f"/step/{coat.pk}/start/")
    sanding = Step.objects.get(title__startswith="Sand before")
    assert answer["Location"] == f"/step/{sanding.pk}/"
    assert "The window ended" in says(bench_client.get(answer["Location"]))


def test_another_material_is_booked_in_any_unit_its_facts_allow(laminate, bench_client, form_key):
    resin = Material.objects.get(key="resin-lam")
    address = f"/step/{laminate.pk}/use/"
    answer = post(bench_client, form_key, address, material=resin.pk, quantity="0.02 L")
    assert answer.status_code == 302
    assert StepUse.objects.get().used == D("22.6")  # 1130 kg/m³
    answer = post(bench_client, form_key, address, material=resin.pk, quantity="3 pieces", own="on")
    assert answer.status_code == 422
    assert "checked" in says(answer)
    answer = post(bench_client, form_key, address, material="", quantity="")
    assert len(summary(answer)) == 2
    assert StepUse.objects.count() == 1


def test_what_was_booked_says_when_and_by_whom(laminate, bench, bench_client, form_key):
    resin = Material.objects.get(key="resin-lam")
    post(bench_client, form_key, f"/step/{laminate.pk}/use/", material=resin.pk, quantity="20 g")
    when, page = timezone.localtime(StepUse.objects.get().at), says(bench_client.get(f"/step/{laminate.pk}/"))
    assert f"Booked {when:%H:%M}: 20 g {resin.name}" in page
    assert f"{when:%H:%M}, {bench.name}: 20 g {resin.name}" in page


def test_one_cup_for_two_boards_asks_how_much_went_where(laminate, versions, counter, bench_client, form_key):
    from quotes import quoting
    from tests.quotes import seed
    from tests.quotes.benches import RAIL_DING
    from tests.quotes.conftest import take_in

    other = take_in(counter, brought_by=seed.customer("Tomás"), board=seed.fish())
    quote = quoting.start_quote(takeins=[other], signed=Signed(counter, timezone.now()))
    way = quoting.add_way(
        board=quote.boards.get(),
        version=versions["ding-rail-small"],
        measures=RAIL_DING,
        signed=Signed(counter, timezone.now()),
    )
    second = b.accept_way(way=way, signed=Signed(counter, timezone.now()), how="at the counter", spoken=True)
    for step in second.steps.order_by("position"):
        if step.operation == "laminate":
            break
        b.drop_step(step=step, reason="test", signed=Signed(counter, timezone.now()))
    page = says(bench_client.get(f"/step/{laminate.pk}/mix/"))
    assert "Onto tag 002" in page
    entries = {"resin_g": "40", "hardener_g": "0.6", f"onto_{step.pk}": "10"}
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **entries, onto="")
    assert answer.status_code == 422
    assert "Onto this board is empty" in summary(answer)[0]
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **entries, onto="20")
    assert answer.status_code == 302
    used = dict(StepUse.objects.filter(material__key="resin-lam").values_list("step", "used"))
    assert used == {laminate.pk: D("26.667"), step.pk: D("13.333")}


def test_something_turned_up_is_noted_and_answered(job, bench_client, counter_client, form_key):
    words = "Wet foam 60 mm further 🌊 <script>alert(1)</script> Łódź"
    answer = post(bench_client, form_key, f"/job/{job.pk}/turned-up/", words=words)
    assert answer.status_code == 302
    extra = Extra.objects.get()
    assert extra.words == words
    page = counter_client.get(f"/job/extra/{extra.pk}/").content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
    answer = post(counter_client, form_key, f"/job/extra/{extra.pk}/price/", words=words, price="")
    assert answer.status_code == 422
    assert "by hand, or by a way" in summary(answer)[0]
    post(counter_client, form_key, f"/job/extra/{extra.pk}/price/", words=words, price="60")
    answer = post(counter_client, form_key, f"/job/extra/{extra.pk}/answer/", agreed="yes", how="")
    assert answer.status_code == 422
    assert 'value="yes"' in says(answer)
    post(counter_client, form_key, f"/job/extra/{extra.pk}/answer/", agreed="yes", how="by phone, 10:15")
    extra.refresh_from_db()
    assert (extra.state, extra.answered_how) == (Extra.State.AGREED, "by phone, 10:15")
    assert job.steps.filter(operation="extra").count() == 1
    answer = post(bench_client, form_key, f"/job/{job.pk}/turned-up/", words="   ")
    assert answer.status_code == 422


def test_done_at_our_cost_from_the_page(job, bench, counter_client, form_key):
    extra = b.note_found(job=job, words="Our router slipped", signed=Signed(bench, timezone.now()))
    answer = post(counter_client, form_key, f"/job/extra/{extra.pk}/", reason="our router slipped")
    assert answer.status_code == 302
    extra.refresh_from_db()
    assert extra.kind == Extra.Kind.ABSORBED


def test_an_extra_is_priced_by_a_recipe(job, bench, versions, counter, counter_client, form_key):
    from quotes import quoting
    from tests.quotes.benches import RAIL_DING

    extra = b.note_found(job=job, words="Second ding", signed=Signed(bench, timezone.now()))
    quote = quoting.start_quote(takeins=[job.takein], signed=Signed(counter, timezone.now()))
    way = quoting.add_way(
        board=quote.boards.get(),
        version=versions["ding-rail-small"],
        measures=RAIL_DING,
        signed=Signed(counter, timezone.now()),
    )
    page = says(counter_client.get(f"/job/extra/{extra.pk}/price/"))
    assert f'<option value="{way.pk}">' in page
    post(counter_client, form_key, f"/job/extra/{extra.pk}/price/", words="Second ding", price="", way=way.pk)
    extra.refresh_from_db()
    assert (extra.way, extra.gross) == (way, way.gross)


def test_another_way_of_the_sent_quote_is_offered_at_its_old_price(job, counter_client, form_key):
    other = job.quoted.ways.get(position=1)
    page = says(counter_client.get(f"/job/{job.pk}/another-way/"))
    assert other.title in page
    answer = post(counter_client, form_key, f"/job/{job.pk}/another-way/", way=other.pk, words="keels do not fit")
    extra = Extra.objects.get()
    assert answer["Location"] == f"/job/extra/{extra.pk}/"
    assert (extra.kind, extra.gross) == (Extra.Kind.ANOTHER, other.gross)
    post(counter_client, form_key, f"/job/extra/{extra.pk}/answer/", agreed="yes", how="by phone")
    job.refresh_from_db()
    assert job.way.title == other.title
    assert b.agreed_total(job) == other.gross
    other.refresh_from_db()
    assert other.agreed_at is None


def test_a_step_is_done_again_or_left_out_from_its_page(laminate, bench, bench_client, form_key):
    b.finish_step(step=laminate, minutes=D(20), signed=Signed(bench, timezone.now()))
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/again/", reason="", cause="", billed="")
    assert answer.status_code == 422
    assert len(summary(answer)) == 2
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/again/", reason="dry spots", cause="ours")
    again = Step.objects.get(redo_of=laminate)
    assert answer["Location"] == f"/step/{again.pk}/"
    post(bench_client, form_key, f"/step/{again.pk}/not-needed/", reason="sanded out")
    again.refresh_from_db()
    assert again.state == Step.State.DROPPED
    post(bench_client, form_key, f"/step/{laminate.pk}/not-done/")
    laminate.refresh_from_db()
    assert laminate.state == Step.State.DOING


def test_the_release_check_asks_only_about_what_is_not_ticked(job, bench, bench_client, form_key):
    work_through(job, bench, start=timezone.now() - timezone.timedelta(days=12))
    address = f"/job/{job.pk}/release/"
    lines = b.release_lines(job)
    assert "Why it is good as it is" not in says(bench_client.get(address))
    ticked = {f"ok_{n}": "on" for n in range(len(lines)) if n != 3}
    answer = post(bench_client, form_key, address, **ticked, minutes="8")
    assert answer.status_code == 422
    assert summary(answer) == [f"“{lines[3]}” is not ticked: tick it, or say why it is good as it is."]
    assert says(answer).count("Why it is good as it is") == 1
    answer = post(bench_client, form_key, address, **ticked, reason_3="faded board, said so", minutes="8")
    assert answer.status_code == 302
    job.refresh_from_db()
    assert job.state == Job.State.FINISHED
    assert job.release_check[3]["reason"] == "faded board, said so"


def test_the_job_sheet_is_kept_as_it_was_printed(job, bench_client, form_key):
    first = bench_client.get(f"/job/{job.pk}/sheet/")
    assert first["Content-Type"] == "application/pdf"
    assert not JobSheet.objects.exists()
    assert post(bench_client, form_key, f"/job/{job.pk}/sheet/").status_code == 302
    kept = bytes(JobSheet.objects.get().document.pdf)
    assert bench_client.get(f"/job/{job.pk}/sheet/").content == kept


def test_a_step_is_read_in_a_fixed_number_of_queries(laminate, bench_client, django_assert_max_num_queries):
    with django_assert_max_num_queries(32):
        bench_client.get(f"/step/{laminate.pk}/")
    with django_assert_max_num_queries(23):
        bench_client.get(f"/job/{laminate.job_id}/")


def reading(page: str) -> str:
    """What stands in the box for how warm it is; empty where it is not asked."""
    found = re.search(r'name="temperature" value="([^"]*)"', page)
    return found.group(1) if found else ""


def test_how_warm_the_shop_is_is_asked_once_a_day_with_the_last_value_in_the_box(
    laminate, bench_client, form_key, bench
):
    page, rack = f"/step/{laminate.pk}/", "/"
    assert reading(bench_client.get(page).content.decode()) == "20"  # the shop's usual one
    assert "as quoted" in says(bench_client.get(page))
    b.say_temperature(celsius=D("17.5"), signed=Signed(bench, timezone.now() - timedelta(days=1)))
    assert [reading(bench_client.get(each).content.decode()) for each in (page, rack)] == ["17.5", "17.5"]
    assert post(bench_client, form_key, f"{page}warmth/", temperature="17.5").url == page
    told = says(bench_client.get(page)).replace("\xa0", " ")
    assert "Told for 17.5 °C, as it is in the shop today." in told
    assert "At 22.5 °C:" in told
    assert "At 12.5 °C: no dose, too cold for this resin." in told
    assert [reading(bench_client.get(each).content.decode()) for each in (page, rack)] == ["", ""]
    assert "warmer or colder now?" in told
    [dose] = b.doses(laminate, D("17.5"))
    assert f'value="{dose.hardener_g}"' in told
    assert JournalEntry.objects.filter(verb="shop.temperature").count() == 2


def test_a_shop_below_the_floor_tells_no_dose_and_leads_to_the_next_thing(laminate, bench_client, form_key):
    page = f"/step/{laminate.pk}/"
    post(bench_client, form_key, "/warmth/", temperature="14")
    said = says(bench_client.get(page))
    assert "below the 15.5 °C that polyester needs" in said
    assert "<dd>" not in said
    assert "Mixed as shown" not in said
    assert f'href="{page}warmth/"' in said
    post(bench_client, form_key, f"{page}warmth/", temperature="18")
    assert "<dd>" in says(bench_client.get(page))


@pytest.mark.parametrize(("typed", "said"), [("", "empty"), ("warm", "21"), ("294", "between -10 and 50 °C")])
def test_a_temperature_that_cannot_be_is_kept_in_its_box_and_stored_nowhere(
    laminate, bench_client, form_key, typed, said
):
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/warmth/", temperature=typed, odd_temperature="on")
    assert answer.status_code == 422
    assert any(said in sentence for sentence in summary(answer)), summary(answer)
    assert reading(answer.content.decode()) == typed
    assert b.last_reading(timezone.localdate()) is None


def test_a_cup_for_several_boards_takes_the_catalyst_that_is_told(laminate, versions, counter, bench_client, form_key):
    two_ready_to_laminate(laminate, versions, counter)
    type(laminate).objects.filter(pk=laminate.pk).update(earliest_at=None)
    post(bench_client, form_key, "/warmth/", temperature="29")
    page = bench_client.get(f"/step/{laminate.pk}/mix/?together=1").content.decode()
    boxes = dict(re.findall(r'name="(resin_g|hardener_g)" value="([\d.]+)"', page))
    assert D(boxes["hardener_g"]) == (D(boxes["resin_g"]) / 100).quantize(D("0.01"))  # 1 % above 27 °C
    post(bench_client, form_key, "/warmth/", temperature="14")
    assert b.together_now(timezone.now(), {}) == []


def two_ready_to_laminate(laminate, versions, counter):
    """Another board whose rail ding is ready for its cloth too."""
    from quotes import quoting
    from tests.quotes import seed
    from tests.quotes.benches import RAIL_DING
    from tests.quotes.conftest import take_in

    now = timezone.now()
    other = take_in(counter, brought_by=seed.customer("Tomás"), board=seed.fish())
    quote = quoting.start_quote(takeins=[other], signed=Signed(counter, now))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, now)
    )
    second = b.accept_way(way=way, signed=Signed(counter, now), how="at the counter", spoken=True)
    for step in second.steps.order_by("position"):
        if step.operation == "laminate":
            return step
        b.drop_step(step=step, reason="test", signed=Signed(counter, now))


def test_the_rack_says_which_boards_one_cup_serves_and_it_is_booked_once(
    laminate, versions, counter, bench_client, form_key
):
    assert "One cup for several boards" not in says(bench_client.get("/"))
    second = two_ready_to_laminate(laminate, versions, counter)
    type(laminate).objects.filter(pk=laminate.pk).update(earliest_at=None)
    (cup,) = b.together_now(timezone.now(), {})
    assert list(cup.onto) == [laminate, second]
    assert cup.grams < cup.apart  # one cup is left behind instead of two
    assert sum(cup.onto.values()) <= cup.grams
    assert f"{cup.grams} g" in says(bench_client.get("/"))
    page = bench_client.get(f"/step/{laminate.pk}/mix/?together=1").content.decode()
    boxes = dict(re.findall(r'name="(resin_g|hardener_g|onto(?:_\d+)?)" value="([\d.]+)"', page))
    assert D(boxes["resin_g"]) == cup.grams
    answer = post(bench_client, form_key, f"/step/{laminate.pk}/mix/", **boxes)
    assert answer.status_code == 302, summary(answer)
    used = dict(StepUse.objects.filter(material__key="resin-lam").values_list("step", "used"))
    assert set(used) == {laminate.pk, second.pk}
    assert sum(used.values()) == cup.grams
    assert used[laminate.pk] / used[second.pk] == pytest.approx(cup.onto[laminate] / cup.onto[second], rel=D("0.001"))
    assert StepUse.objects.values("mix").distinct().count() == 1
    second.refresh_from_db()
    assert second.state == "doing"
    assert b.together_now(timezone.now(), {}) == []


def test_a_cup_never_holds_more_than_is_used_in_time(laminate, versions, counter):
    two_ready_to_laminate(laminate, versions, counter)
    type(laminate).objects.filter(pk=laminate.pk).update(earliest_at=None)
    assert len(b.together_now(timezone.now(), {})) == 1
    assert b.together_now(timezone.now(), {"most_mix_polyester_g": [10.0, 5.0, 20.0]}) == []


def test_the_box_of_minutes_stands_empty_and_says_what_leaving_it_so_means(bench_client, job, form_key, bench):
    """What is in it was written by somebody: the planned figure typed is a log, the box left alone is none."""
    first, second = job.steps.order_by("position")[:2]
    page = says(bench_client.get(f"/step/{first.pk}/"))
    planned = max(1, round(first.planned_minutes))
    assert f"Left empty, {planned} as planned; that teaches nothing." in page
    assert post(bench_client, form_key, f"/step/{first.pk}/done/", minutes="", rest="on").status_code == 302
    assert (
        post(
            bench_client, form_key, f"/step/{second.pk}/done/", minutes=f"{round(second.planned_minutes)}", rest="on"
        ).status_code
        == 302
    )
    assert [(step.times.get().typed) for step in (first, second)] == [False, True]
    assert first.times.get().minutes == b.planned_minutes(first)


def test_a_jobs_page_shows_what_is_next_and_folds_what_is_done_and_what_comes_later(job, bench, client):
    client.force_login(job.by)
    steps = list(job.steps.order_by("position"))
    for step in steps[:2]:
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, timezone.now()), rest_as_planned=False)
    shown = client.get(f"/job/{job.pk}/")
    titles = {name: [rung["step"].title for rung in shown.context[name]] for name in ("behind", "ahead", "later")}
    few = len(titles["ahead"])
    assert titles["behind"] == [step.title for step in steps[:2]]
    assert titles["ahead"] + titles["later"] == [step.title for step in steps[2:]]
    assert few == 5
    page = says(shown)
    folded = re.findall(r'<details class="fold"><summary>(.*?)</summary>(.*?)</details>', page)
    later = f"{len(steps) - 2 - few} more after that"
    assert [summary for summary, _ in folded] == [
        "2 steps done",
        later,
        "Sundries of this job",
        "Change what was agreed",
    ]
    assert steps[0].title in folded[0][1]
    assert f"/job/{job.pk}/promise/" in folded[3][1]
    assert page.index("Go on: ") < page.index(folded[0][0])


def test_a_jobs_page_leads_to_the_rooms_that_are_not_of_every_day_like_any_other(job, keeper_client):
    assert len(job.steps.all()) > 7, "some of its steps come later too"
    more = says(keeper_client.get(f"/job/{job.pk}/")).split("<summary>More</summary>")[1].split("</details>")[0]
    assert re.findall(r'href="([^"]+)"', more) == ["/recipes/", "/learned/", "/shop/"]


def test_one_step_more_than_is_shown_is_not_folded_away_alone(job, bench, client):
    client.force_login(job.by)
    steps = list(job.steps.order_by("position"))
    for step in steps[:-6]:
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, timezone.now()), rest_as_planned=False)
    shown = client.get(f"/job/{job.pk}/")
    assert (len(shown.context["ahead"]), shown.context["later"]) == (6, [])
    assert "more after that" not in says(shown)
