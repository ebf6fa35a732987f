"""What must not be done to a board is refused wherever it is asked, in one sentence, with what to do about it.

The table: every rule × every operation that could break it × command, way form, recipe editor, sending, yes, step. The
rules are common practice, no source; the least temperatures and the largest pour are the shop's figures or the data
sheet's. Each case is priced while all is well, then the board or the shop is put down otherwise.
"""

from __future__ import annotations

import html
from datetime import timedelta
from decimal import Decimal
from io import StringIO
from typing import Any, NamedTuple

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from inventory.models import Material
from quotes import bench as b
from quotes import quoting
from quotes.bench.papers import job_sheet
from quotes.costing import CoreRecipe, RecipeStep
from quotes.models import Job, Quote, RecipeDraft, RecipeVersion, Step
from quotes.models import Recipe as RecipeRow
from shop.models import Profile
from shop.platform.acts import Refused, Signed
from tests import sample_shop
from tests.conftest import NOW
from tests.costing.test_refusals import MEASURES, PLACES, POCKET, WITH_RESIN
from tests.quotes import seed
from tests.quotes.conftest import refusal, take_in

ROUT = RecipeStep("rout", {"place": "hole"})
BIG = {"length": 300.0, "width": 200.0, "depth": 25.0}


class Where(NamedTuple):
    """The board and the shop at one time."""

    core: str = "pu"
    resin: str = "polyester"
    skin: str = "glass"
    wet: bool = False
    warm: str = "20"


WELL = Where()
EPS = Where("eps", "epoxy")


class Case(NamedTuple):
    """Steps of which the last must not be done in `bad`, and may be in `well`; the sentence that is said."""

    acts: tuple[RecipeStep, ...]
    bad: Where
    sentence: str
    well: Where = WELL
    sizes: dict[str, float] = POCKET

    def __str__(self) -> str:
        return f"{self.acts[-1].operation}-{self.sentence[:24]}".replace(" ", "_")


def act(operation: str, **told: Any) -> RecipeStep:
    return RecipeStep(operation, told)


def takes(material: str, **told: Any) -> RecipeStep:
    return act("allowance", material=material, quantity=5, what="Glue it on", **told)


RESINS = [RecipeStep(operation, told) for operation, told in WITH_RESIN]
PAINTS = [act("spray-colour", place="hole"), act("spray-clear", place="hole")]
FOAM = act("pour-foam", place="hole", foam="foam-56")
ON_SKIN = ("laminate", "hot-coat", "gloss-coat", "inject", "tack-fin", "rope-fin", "fin-patches")


def epoxy(one: RecipeStep) -> RecipeStep:
    return RecipeStep(one.operation, {**one.settings, "system": "epoxy"})


def polyester(one: RecipeStep) -> RecipeStep:
    return RecipeStep(one.operation, {**one.settings, "system": "polyester"})


LAMINATE = polyester(RESINS[0])
TABLE = [
    *(Case((polyester(one),), EPS, "Polyester melts EPS foam") for one in RESINS),
    Case((LAMINATE,), Where("xps", "epoxy"), "Polyester melts XPS foam"),
    Case((LAMINATE,), Where("unknown", "polyester"), "core is not known and counts as EPS, which polyester melts"),
    Case((LAMINATE,), Where("wood", "polyester"), "Polyester is used on a PU core only"),
    Case((LAMINATE,), Where("pu", "epoxy"), "Polyester does not hold on an epoxy skin"),
    Case((LAMINATE,), Where("pu", "unknown"), "skin is not known and counts as epoxy"),
    Case((LAMINATE,), Where(skin="sandwich"), "Polyester melts the foam in a moulded sandwich skin"),
    Case((polyester(RESINS[1]),), Where(skin="soft"), "Polyester eats the foam and the glue of a soft skin"),
    Case((takes("resin-lam"),), EPS, "Polyester melts EPS foam"),
    Case((takes("mekp", over="glass"),), EPS, "Polyester melts EPS foam"),
    Case((takes("own-resin"),), EPS, "Polyester melts EPS foam"),
    Case((act("tack-fin", fin="fin", glue="cyanoacrylate"),), EPS, "Cyanoacrylate and its accelerator eat EPS"),
    Case((takes("ca-glue"),), EPS, "Cyanoacrylate and its accelerator eat EPS"),
    Case((takes("ca-glue"),), Where(skin="sandwich"), "Cyanoacrylate and its accelerator eat EPS"),
    Case((takes("acetone"),), EPS, "Acetone and other solvents eat bare EPS"),
    Case((ROUT, takes("own-wash", over="glass")), EPS, "Acetone and other solvents eat bare EPS"),
    Case((ROUT, PAINTS[0]), EPS, "Solvent paint eats bare EPS"),
    Case((ROUT, PAINTS[1]), EPS, "Two-pack clear eats bare EPS"),
    Case((ROUT, FOAM, PAINTS[1]), EPS, "Two-pack clear eats bare EPS"),
    Case((act("cut-back", place="hole"), PAINTS[0]), Where("unknown", "unknown"), "Solvent paint eats bare EPS"),
    Case((act("spray-colour", place="hole", over="foam"),), EPS, "Solvent paint eats bare EPS"),
    Case((act("spray-clear", place="hole", over="foam"),), EPS, "Two-pack clear eats bare EPS"),
    *(Case((one,), Where(wet=True), "nothing is sealed over a wet core") for one in (*RESINS, *PAINTS, FOAM)),
    Case((takes("epoxy-resin"),), Where(wet=True), "nothing is sealed over a wet core"),
    *(
        Case((epoxy(one),), Where(skin="soft"), "No resin and no paint holds on a soft skin")
        for one in RESINS if one.operation in ON_SKIN
    ),
    *(Case((one,), Where(skin="soft"), "No resin and no paint holds on a soft skin") for one in PAINTS),
    Case((act("dry-out", room_c=60),), EPS, "60 °C softens EPS and XPS foam"),
    Case((act("pour-foam", place="hole", foam="foam-32", pours=1),), EPS, "too hot for EPS", sizes=BIG),
    *(Case((polyester(one),), Where(warm="15"), "below the 15.5 °C that polyester needs") for one in RESINS),
    *(Case((epoxy(one),), Where(warm="11"), "below the 12 °C that epoxy needs") for one in RESINS),
    Case((takes("epoxy-resin"),), Where(warm="11"), "below the 12 °C that epoxy needs"),
    Case((FOAM,), Where(warm="14"), "below the 15 °C that pour foam needs"),
]  # fmt: skip


@pytest.fixture
def shop(keeper, counter, bench):
    sample_shop.stock_the_store()
    for key, kind, name, facts in (
        ("own-resin", "resin", "Quick resin from the boatyard", {"catalyst_low": 1.0, "catalyst_high": 2.0}),
        ("own-wash", "solvent", "Brush wash", {}),
    ):
        like = Material.objects.get(key="resin-lam")
        pack, price = like.packs.get(), like.packs.get().prices.get()
        like.pk, like.key, like.kind, like.name, like.facts = None, key, kind, name, facts
        like.save()
        pack.pk, pack.material = None, like
        pack.save()
        price.pk, price.pack = None, pack
        price.save()
    return {"keeper": keeper, "counter": counter, "bench": bench}


def recipe_of(case: Case) -> RecipeVersion:
    core = CoreRecipe("one", "One repair", 1, MEASURES, PLACES, case.acts)
    assert core.problems() == []
    row = RecipeRow.objects.create(key="one", name="One repair")
    return RecipeVersion.objects.create(recipe=row, number=1, body=core.to_dict(), made_at=NOW)


def put_down(takein: Any, where: Where) -> None:
    """The board, its water and the shop's temperature as they are now."""
    board = takein.board
    board.core, board.resin, board.skin = where[:3]
    board.save()
    takein.wet = where.wet
    takein.save()
    Profile.objects.update(shop_temperature_c=Decimal(where.warm))


def typed(case: Case) -> dict[str, str]:
    return {name: f"{size:g} mm" for name, size in case.sizes.items()}


def page(answer: Any) -> str:
    return " ".join(html.unescape(answer.content.decode()).split())


def priced(case: Case, people: Any) -> Quote:
    takein = take_in(people["counter"])
    put_down(takein, case.well)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(people["counter"], timezone.now()))
    quoting.add_way(
        board=quote.boards.get(), version=recipe_of(case), measures=typed(case), damage=None, signed=Signed(people["counter"], timezone.now()),
        accepted_odd=list(case.sizes),
    )  # fmt: skip
    assert quote.boards.get().ways.get().problems == []
    return quote


ALWAYS = [
    Case((epoxy(RESINS[0]), polyester(one)), WELL, "Polyester does not hold on the epoxy that an earlier step lays")
    for one in RESINS if "place" in one.settings
]  # fmt: skip


@pytest.mark.parametrize("case", [*TABLE, *ALWAYS], ids=str)
def test_on_the_command_line_in_the_form_and_in_the_editor(case: Case, shop, counter_client, keeper_client, form_key):
    takein = take_in(shop["counter"])
    put_down(takein, case.bad)
    version = recipe_of(case)
    said, where = StringIO(), case.bad
    words = ["price", "one", "--odd", "--core", where.core, "--resin", where.resin, "--skin", where.skin]
    words += [word for name, text in typed(case).items() for word in ("--measure", f"{name}={text}")]
    with pytest.raises(SystemExit):
        call_command(*words, *(["--wet"] if where.wet else []), stderr=said, stdout=StringIO())
    assert case.sentence in said.getvalue()

    quote = quoting.start_quote(takeins=[takein], signed=Signed(shop["counter"], timezone.now()))
    boxes = {f"m_{name}": text for name, text in typed(case).items()}
    sent = {"title": "One", "words": "", "damage": "", **boxes, **{f"odd_m_{name}": "on" for name in case.sizes}}
    address = f"{reverse('way-new', args=[quote.boards.get().pk])}?recipe=one&damage="
    answer = counter_client.post(address, {**sent, "submission_key": form_key()}, follow=True)
    assert case.sentence in page(answer)
    assert not quote.boards.get().ways.filter(gross__isnull=False).exists()

    board = {"core": where.core, "resin": where.resin, "skin": where.skin, "wet": where.wet}
    RecipeDraft.objects.create(
        recipe=version.recipe, key="one", body=version.body, by=shop["keeper"], changed_at=NOW,
        reference={"board": board, "measures": typed(case)},
    )  # fmt: skip
    assert case.sentence in page(keeper_client.get(reverse("recipe-edit", args=["one"])))


@pytest.mark.parametrize("case", TABLE, ids=str)
def test_when_it_is_sent_when_it_is_agreed_and_before_the_step(
    case: Case, shop, counter_client, bench_client, form_key
):
    quote = priced(case, shop)
    takein, way = quote.boards.get().takein, quote.boards.get().ways.get()
    by, at = shop["counter"], timezone.now()
    put_down(takein, case.bad)
    said = refusal(lambda: quoting.send_quote(quote=quote, signed=Signed(by, at)))
    assert any(case.sentence in one for one in said["__all__"])

    put_down(takein, case.well)
    quoting.send_quote(quote=quote, signed=Signed(by, at))
    put_down(takein, case.bad)
    said = refusal(lambda: b.accept_way(way=way, signed=Signed(by, at), how="by phone"))
    assert case.sentence in said["__all__"][0]
    assert not Job.objects.exists()
    asked = page(counter_client.get(reverse("way-agree", args=[way.pk])))
    assert case.sentence in asked

    put_down(takein, case.well)
    job = b.accept_way(way=way, signed=Signed(by, at), how="by phone")
    *before, step = job.steps.order_by("position")
    for one in before:
        b.finish_step(step=one, minutes=Decimal(5), signed=Signed(by, at), rest_as_planned=False)
    put_down(takein, case.bad)
    later = at + timedelta(days=3)
    step = Step.objects.get(pk=step.pk)
    with pytest.raises(Refused, match=case.sentence.replace(".", r"\.")):
        b.start_step(step=step, signed=Signed(shop["bench"], later), early=True)
    shown = page(bench_client.get(f"/step/{step.pk}/"))
    assert case.sentence in shown
    assert 'class="doses"' not in shown
    assert "Really weighed" not in shown
    assert "Used as planned:" not in shown
    assert "Tell the counter what turned up" in shown
    assert case.sentence in page(bench_client.get(f"/job/{job.pk}/"))
    (printed,) = [one for one in job_sheet.context(Job.objects.get(pk=job.pk), at=at)["steps"] if one["refused"]]
    assert any(case.sentence in text for text in printed["refused"])
    assert (printed["doses"], printed["words"], printed["takes"]) == ([], "", "")
    # what was done all the same is booked
    answer = bench_client.post(
        f"/step/{step.pk}/done/", {"minutes": "12", "rest": "on", "note": "", "submission_key": form_key()}
    )
    assert answer.status_code == 302
    step.refresh_from_db()
    assert step.state == Step.State.DONE
    assert {use.material.key for use in step.uses.all()} >= {mix["resin"] for mix in step.plan["mixes"]}


# A way for a PU board, agreed, and then the board is put right to EPS and wet


@pytest.fixture
def put_right(job):
    """The keels, laid in polyester by the board, are agreed; then the board turns out to be EPS, and wet."""
    put_down(job.takein, Where("eps", "epoxy", wet=True))
    return Job.objects.get(pk=job.pk)


def test_every_polyester_step_of_a_board_that_turned_out_eps_is_refused_on_job_sheet_and_rack(
    put_right, counter_client, bench_client
):
    poly = {step.pk for step in put_right.steps.all() if {m["system"] for m in step.plan["mixes"]} == {"polyester"}}
    assert len(poly) >= 6
    refused = b.refused_ahead(put_right, None)
    assert poly <= set(refused)
    assert all("Polyester melts EPS foam" in refused[pk][0].text for pk in poly)
    shown = page(counter_client.get(f"/job/{put_right.pk}/"))
    assert shown.count("Not like this") == len(refused)
    assert f'href="/board/{put_right.takein.board_id}/change/"' in shown
    assert f'href="/take-in/{put_right.takein_id}/change/"' in shown
    assert f'href="/job/{put_right.pk}/another-way/"' in shown
    assert reverse("bench-note", args=[put_right.pk]) in page(bench_client.get(f"/job/{put_right.pk}/"))
    sheet = job_sheet.context(put_right, at=NOW)
    assert all(not step["doses"] for step in sheet["steps"])


def next_to_do(job: Job, operation: str, by: Any) -> Step:
    """The first step of an operation, everything before it done."""
    for step in job.steps.order_by("position"):
        if step.operation == operation:
            return step
        b.finish_step(step=step, minutes=Decimal(5), signed=Signed(by, timezone.now()), rest_as_planned=False)
    raise AssertionError(operation)


def test_the_rack_says_it_and_the_way_out_is_to_put_the_board_back(job, counter, bench, bench_client, form_key):
    step = next_to_do(job, "laminate", counter)
    put_down(job.takein, EPS)
    assert "Polyester melts EPS foam" in page(bench_client.get("/"))
    answer = bench_client.post(f"/step/{step.pk}/start/", {"early": "1", "submission_key": form_key()}, follow=True)
    assert "Polyester melts EPS foam" in page(answer)
    step.refresh_from_db()
    assert step.state == Step.State.TODO
    put_down(job.takein, WELL)
    assert "Polyester melts" not in page(bench_client.get("/"))
    assert 'class="doses"' in page(bench_client.get(f"/step/{step.pk}/"))
    assert b.start_step(step=Step.objects.get(pk=step.pk), signed=Signed(bench, timezone.now()), early=True).started_at


def test_what_was_mixed_all_the_same_is_booked_and_no_dose_stands_in_its_boxes(job, counter, bench_client, form_key):
    step = next_to_do(job, "laminate", counter)
    put_down(job.takein, EPS)
    [dose] = b.doses(step)
    shown = page(bench_client.get(f"/step/{step.pk}/mix/"))
    assert "Polyester melts EPS foam" in shown
    assert f'value="{dose.resin_g}"' not in shown
    answer = bench_client.post(
        f"/step/{step.pk}/mix/", {"resin_g": "44", "hardener_g": "0.7", "submission_key": form_key()}
    )
    assert answer.status_code == 302
    assert {use.material.key: use.used for use in step.uses.all()}["resin-lam"] == 44
    form = bench_client.get(f"/step/{step.pk}/").context["done_form"]
    assert not form["rest"].value()


def test_no_cup_is_shared_with_a_board_that_must_not_have_it(job, counter, versions):
    other = take_in(counter, brought_by=seed.customer("Tomás"), board=seed.fish())
    quote = quoting.start_quote(takeins=[other], signed=Signed(counter, timezone.now()))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS, damage=other.damages.get(),
        signed=Signed(counter, timezone.now()),
    )  # fmt: skip
    second = b.accept_way(way=way, signed=Signed(counter, timezone.now()), how="here", spoken=True)
    for one in (job, second):
        next_to_do(one, "laminate", counter)
    now = timezone.now() + timedelta(days=3)
    assert len(b.together_now(now, {})) == 1
    put_down(job.takein, EPS)
    assert b.together_now(now, {}) == []


def test_another_way_and_an_extra_are_looked_at_when_offered_and_when_agreed(job, counter, versions):
    by, at = counter, timezone.now()
    own = quoting.start_quote(takeins=[job.takein], signed=Signed(by, at))
    way = quoting.add_way(
        board=own.boards.get(), version=versions["ding-deck-small"], damage=None, signed=Signed(by, at), measures={"length": "40 mm", "width": "30 mm", "depth": "9 mm"},
    )  # fmt: skip
    extra = b.note_found(job=job, words="a ding beside it", signed=Signed(by, at))
    extra = b.price_extra(extra=extra, way=way, signed=Signed(by, at))
    put_down(job.takein, EPS)
    for answer in (
        lambda: b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(by, at)),
        lambda: b.absorb_extra(extra=extra, reason="our slip", signed=Signed(by, at)),
    ):
        assert "Polyester melts EPS foam" in refusal(answer)["__all__"][0]
    assert job.steps.count() == len(job.way.parts.get().snapshot["steps"])
    quoting.recompute(quote=own, signed=Signed(by, at))  # by the board as it is: in epoxy
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(by, at))
    added = [step for step in job.steps.all() if step.part.way_id == way.pk]
    assert {m["system"] for step in added for m in step.plan["mixes"]} == {"epoxy"}


def test_a_way_worked_out_for_another_board_is_not_offered_instead(job, counter, versions):
    by, at = counter, timezone.now()
    own = quoting.start_quote(takeins=[job.takein], signed=Signed(by, at))
    way = quoting.add_way(
        board=own.boards.get(), version=versions["fin-box"], damage=None, signed=Signed(by, at), measures={"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"},
    )  # fmt: skip
    put_down(job.takein, EPS)
    said = refusal(lambda: b.propose_another_way(job=job, way=way, words="", signed=Signed(by, at)))
    assert any("Polyester melts EPS foam" in one for one in said["way"])


def test_a_price_by_hand_does_not_hide_that_the_way_was_worked_out_anew(quote, counter):
    way = quote.boards.get().ways.get(position=2)
    way = quoting.edit_way(
        way=way,
        signed=Signed(counter, NOW),
        title=way.title,
        words=way.words,
        price_by_hand=Decimal(900),
        price_reason="a friend",
    )
    put_down(way.board.takein, EPS)
    try:
        quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    except Refused:
        quoting.recompute(quote=quote, signed=Signed(counter, NOW))
        quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    systems = {m["system"] for plan in way.parts.get().snapshot["steps"] for m in plan["mixes"]}
    assert "polyester" not in systems
    assert b.accept_way(way=way, signed=Signed(counter, NOW), how="here").steps.exists()


@pytest.fixture
def soaked(shop, counter):
    """A waterlogged board with a job that dries it first."""
    versions = seed.recipes()
    takein = take_in(counter)
    put_down(takein, Where(wet=True))
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["waterlogged"], damage=None, signed=Signed(counter, NOW), measures={"length": "80 mm", "width": "60 mm", "depth": "20 mm"},
    )  # fmt: skip
    return b.accept_way(way=way, signed=Signed(counter, NOW), how="here", spoken=True)


def test_a_wet_board_is_closed_once_the_drying_was_done_and_not_when_it_was_left_out(soaked, counter):
    assert b.refused_ahead(soaked, None) == {}, "the sheet has its doses: it is dried first"
    foam = soaked.steps.get(operation="pour-foam")
    at = NOW + timedelta(days=40)
    said = refusal(lambda: b.start_step(step=foam, signed=Signed(counter, at), early=True))
    assert "nothing is sealed over a wet core" in said["__all__"][0]
    assert any(one.startswith("Dry it first") for one in said["__all__"])
    drying = next_to_do(soaked, "dry-out", counter)
    b.finish_step(step=drying, minutes=Decimal(20), signed=Signed(counter, at))
    assert (
        b.start_step(step=Step.objects.get(pk=foam.pk), signed=Signed(counter, at), early=True).state
        == Step.State.DOING
    )


def test_drying_left_out_leaves_the_core_wet(soaked, counter):
    b.drop_step(step=soaked.steps.get(operation="dry-out"), reason="in a hurry", signed=Signed(counter, NOW))
    refused = b.refused_ahead(soaked, None)
    assert soaked.steps.get(operation="pour-foam").pk in refused
    assert soaked.steps.get(operation="hot-coat").pk in refused


def test_steps_from_before_what_they_do_was_kept_are_read_by_their_mixes(put_right):
    now = b.refused_ahead(put_right, None)
    for step in put_right.steps.all():
        del step.plan["does"]
        step.save()
    assert set(b.refused_ahead(put_right, None)) == set(now)


def test_the_bench_of_another_temperature_is_asked_in_one_place(job, counter):
    step = next_to_do(job, "laminate", counter)
    assert b.refused_step(step, None) == ()
    Profile.objects.update(shop_temperature_c=Decimal("9.5"))
    (cold,) = b.refused_step(step, None)
    assert (
        cold.text == "The shop is at 9.5 °C, below the 15.5 °C that polyester needs: warm shop, board and resin first."
    )
    assert b.refused_step(step, Decimal(20)) == (), "what was read at the bench today goes before the shop's usual"
    (read,) = b.refused_step(step, Decimal(14))
    assert "at 14 °C" in read.text
