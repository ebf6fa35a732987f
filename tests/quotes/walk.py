"""The pages of quotes, jobs, money and recipes, and sample rows: one board for each stage that a page needs."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

from inventory.counting import weighing
from inventory.models import Lot, Material
from inventory.stock import ledger
from quotes import bench, billing, experience, quoting
from quotes.models import Recipe, RecipeVersion, Step
from quotes.pricelist import add_row
from quotes.recipes import edit_recipe
from quotes.recipes.own_figures import set_figure
from shop.business import hands, shop_settings
from shop.business.calendar_addresses import make_address, token_of
from shop.platform.acts import Signed
from tests import sample_shop
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.benches import all_ticked
from tests.quotes.conftest import take_in
from tests.walker import EVERYBODY, KEEPER, MONEY, STAFF, Page, Rows, pages, sample

BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
LATER = NOW + timedelta(days=9)


def _counter(rows: Rows):
    return rows.users["counter"]


@sample
def versions(rows: Rows):
    sample_shop.stock_the_store()
    versions = seed.recipes()
    seed.receive_stock(by=rows.keeper)
    return versions


def _quote(rows: Rows):
    """A draft with one way, on a board of its own."""
    versions, by = rows["versions"], _counter(rows)
    takein = take_in(by)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(by, NOW))
    quoting.add_way(
        board=quote.boards.get(),
        damage=takein.damages.get(),
        version=versions["fin-box"],
        measures=BOX,
        signed=Signed(by, NOW),
    )
    return quote


def _sent(rows: Rows):
    return quoting.send_quote(quote=_quote(rows), signed=Signed(_counter(rows), NOW))


def _job(rows: Rows):
    way = _sent(rows).boards.get().ways.get()
    return bench.accept_way(way=way, signed=Signed(_counter(rows), NOW), how="at the counter")


def _finished(rows: Rows):
    job = _job(rows)
    job.steps.exclude(operation=bench.RELEASE).update(state=Step.State.DONE)
    return bench.finish_job(job=job, checks=all_ticked(job), signed=Signed(_counter(rows), LATER))


@sample
def takein(rows: Rows):
    return take_in(_counter(rows))


@sample
def tag(rows: Rows):
    return {"tag": rows["takein"].tag}


@sample
def damage(rows: Rows):
    return rows["takein"].damages.get()


@sample
def draft(rows: Rows):
    return _quote(rows)


@sample
def quote_board(rows: Rows):
    return rows["draft"].boards.get()


@sample
def way(rows: Rows):
    return rows["quote_board"].ways.get()


@sample
def part(rows: Rows):
    return rows["way"].parts.get()


@sample
def way_line(rows: Rows):
    return quoting.add_line(way=rows["way"], words="Courier", price=Decimal(20), signed=Signed(_counter(rows), NOW))


@sample
def sent(rows: Rows):
    return _sent(rows)


@sample
def sent_way(rows: Rows):
    return rows["sent"].boards.get().ways.get()


@sample
def job(rows: Rows):
    return _job(rows)


@sample
def step(rows: Rows):
    return rows["job"].steps.order_by("position").first()


@sample
def sundries(rows: Rows):
    return bench.sundries_of(_job(rows))[0]


@sample
def mixing_step(rows: Rows):
    return next(step for step in rows["job"].steps.order_by("position") if step.plan.get("mixes"))


@sample
def use(rows: Rows):
    step = rows["mixing_step"]
    tape = Material.objects.exclude(kind__in=("resin", "hardener")).order_by("pk").first()
    return bench.record_use(step=step, material=tape, quantity=Decimal(1), signed=Signed(rows.users["bench"], NOW))


@sample
def steps_movement(rows: Rows):
    """What the use of a step took off the shelf."""
    return rows["use"].movements.get()


@sample
def mixs_movement(rows: Rows):
    """The resin of a mix of two boards."""
    job, by = _job(rows), rows.users["bench"]
    step = next(step for step in job.steps.order_by("position") if step.plan.get("mixes"))
    shares = {step: Decimal(2), rows["mixing_step"]: Decimal(1)}
    mix = bench.record_mix(step=step, shares=shares, signed=Signed(by, NOW))
    return mix.uses.filter(step=step).first().movements.first()


@sample
def sale(rows: Rows):
    """The invoice of a bar of wax sold over the counter."""
    wax = Material.objects.create(key="walk-wax", name="Bar of wax", kind="counter", unit="piece", shelf="A3")
    ledger.receive(
        lot=Lot(material=wax, received_on=TODAY),
        quantity=Decimal(9),
        value=Decimal(18),
        signed=Signed(rows.keeper, NOW),
    )
    payment = billing.sell_goods(
        goods=[billing.Goods(wax, Decimal(2), Decimal(4))], method="cash", signed=Signed(_counter(rows), NOW),
    )  # fmt: skip
    return payment.invoice


@sample
def sold_movement(rows: Rows):
    return rows["sale"].lines.get().movements.get()


@sample
def tin(rows: Rows):
    """A tin of what the next mix of the job asks for."""
    resin = Material.objects.get(key=bench.doses(rows["mixing_step"])[0].resin)
    lot, by = resin.lots.left().first(), rows.keeper
    return weighing.add_container(
        lot=lot, name="tin", tare_g=Decimal(300), holds=lot.quantity_left, signed=Signed(by, NOW)
    )  # fmt: skip


@sample
def minutes(rows: Rows):
    step = _job(rows).steps.order_by("position").first()
    bench.finish_step(step=step, minutes=Decimal(9), signed=Signed(rows.users["bench"], NOW))
    return step.times.get()


@sample
def total(rows: Rows):
    return experience.note_hours(
        person=rows.users["bench"], from_day=NOW.date(), to_day=NOW.date(), minutes=Decimal(90), signed=Signed(rows.users["bench"], NOW),
    )  # fmt: skip


@sample
def extra(rows: Rows):
    return bench.note_found(job=rows["job"], words="Wet foam 60 mm further", signed=Signed(rows.users["bench"], NOW))


@sample
def priced_extra(rows: Rows):
    extra = bench.note_found(job=rows["job"], words="Second crack", signed=Signed(rows.users["bench"], NOW))
    return bench.price_extra(extra=extra, price=Decimal(40), signed=Signed(_counter(rows), NOW))


@sample
def finished(rows: Rows):
    return _finished(rows)


@sample
def uncharged(rows: Rows):
    job = _finished(rows)
    bench.charge_nothing(job=job, reason="It did not hold", signed=Signed(_counter(rows), LATER))
    return job


@sample
def figure(rows: Rows):
    job = rows["finished"]
    job.steps.update(done_at=NOW)
    experience.learn(at=LATER)
    first = experience.own_figures()[0]
    return {"operation": first.operation, "material": first.material}


@sample
def invoice(rows: Rows):
    return billing.issue_invoice(jobs=[_finished(rows)], signed=Signed(_counter(rows), LATER))


@sample
def payment(rows: Rows):
    return billing.pay(invoice=rows["invoice"], amount=Decimal(10), method="card", signed=Signed(_counter(rows), LATER))


@sample
def recipe(rows: Rows):
    return {"key": rows["versions"]["fin-box"].recipe.key}


@sample
def unpriced_recipe(rows: Rows):
    """A recipe that takes a box whose price nobody has said."""
    version = rows["versions"]["fin-box"]
    facts = Material.objects.get(key="fin-box").facts
    Material.objects.create(
        key="walk-box", name="Fin box, long", kind="hardware", unit="piece", facts=facts,
        guess_words="bag of 4 boxes", guess_content=Decimal(4), guess_price=Decimal(38),
    )  # fmt: skip
    body = json.loads(json.dumps(version.body).replace('"fin-box"', '"walk-box"'))
    recipe = Recipe.objects.create(key="walk-box", name="New box, long")
    RecipeVersion.objects.create(recipe=recipe, number=1, body=body, made_at=NOW)
    return {"key": "walk-box"}


@sample
def version(rows: Rows):
    return {**rows["recipe"], "number": 1}


@sample
def draft_recipe(rows: Rows):
    recipe = rows["versions"]["glass-on-twin"].recipe
    edit_recipe(recipe=recipe, signed=Signed(rows.keeper, NOW))
    return {"key": recipe.key}


@sample
def draft_part(rows: Rows):
    return {**rows["draft_recipe"], "number": 1}


@sample
def own_figure(rows: Rows):
    set_figure(name="cup_loss_g", value=12.0, low=6.0, high=25.0, signed=Signed(rows.keeper, NOW))
    return {"name": "cup_loss_g"}


@sample
def price_row(rows: Rows):
    recipe = rows["versions"]["fin-box"].recipe
    return add_row(repair="Fin box", size="one", recipe=recipe, only_from=False, signed=Signed(rows.keeper, NOW))


@sample
def absence(rows: Rows):
    return hands.add_absence(first=TODAY, person=rows.users["bench"], signed=Signed(rows.keeper, NOW))


@sample
def closed_soon(rows: Rows):
    return shop_settings.close_days(signed=Signed(rows.keeper, NOW), first=TODAY + timedelta(days=5))[0]


@sample
def calendar(rows: Rows):
    return {"token": token_of(make_address(name="Counter", signed=Signed(rows.keeper, NOW)))}


pages(
    Page("rack", STAFF),
    Page("today", STAFF),
    Page("today-again", STAFF, get=302),
    Page("question-away", STAFF, get=302),
    Page("day", STAFF),
    Page("week", STAFF),
    Page("week-ahead", STAFF),
    Page("look-again", STAFF, get=302),
    Page("absence-new", STAFF, form=True),
    Page("absence-back", STAFF, "absence", get=302),
    Page("week-close", KEEPER, form=True),
    Page("week-open", KEEPER, "closed_soon", get=302),
    Page("calendar", EVERYBODY, "calendar"),
    Page("total-back", STAFF, "total", get=302),
    Page("takein-new", MONEY),
    Page("takein-outline", MONEY, whole=False),
    Page("takein", STAFF, "takein"),
    Page("takein-edit", MONEY, "takein"),
    Page("takein-slip", STAFF, "takein"),
    Page("takein-back", MONEY, "takein"),
    Page("rang", MONEY, "takein", get=302),
    Page("damage-new", MONEY, "takein"),
    Page("damage-edit", MONEY, "damage"),
    Page("damage-remove", MONEY, "damage"),
    Page("tag", STAFF, "tag", get=302),
    Page("quotes", MONEY),
    Page("quote-new", MONEY, "takein"),
    Page("quote", MONEY, "draft"),
    Page("quote-edit", MONEY, "draft"),
    Page("quote-board-new", MONEY, "draft"),
    Page("quote-customer", MONEY, "draft"),
    Page("quote-preview", MONEY, "draft"),
    Page("quote-work-out", MONEY, "draft", get=302),
    Page("quote-price-sheet", MONEY, "draft"),
    Page("quote-price-sheet", MONEY, "sent"),
    Page("quote-send", MONEY, "draft", get=302),
    Page("quote-pdf", MONEY, "sent"),
    Page("quote-decline", MONEY, "sent"),
    Page("quote-replace", MONEY, "sent"),
    Page("way-new", MONEY, "quote_board"),
    Page("way-edit", MONEY, "way"),
    Page("way-up", MONEY, "way", get=302),
    Page("way-remove", MONEY, "way"),
    Page("way-why", MONEY, "way"),
    Page("way-agree", MONEY, "sent_way"),
    Page("way-line-new", MONEY, "way"),
    Page("way-line-edit", MONEY, "way_line"),
    Page("way-line-remove", MONEY, "way_line", get=302),
    Page("way-sure", MONEY, "way"),
    Page("part-new", MONEY, "way"),
    Page("part-edit", MONEY, "part"),
    Page("part-optional", MONEY, "part", get=302),
    Page("part-remove", MONEY, "part", get=302),
    Page("job", STAFF, "job"),
    Page("job-sheet", STAFF, "job"),
    Page("bench-note", STAFF, "job"),
    Page("job-another-way", MONEY, "job"),
    Page("job-promise", MONEY, "job"),
    Page("job-stop", MONEY, "job"),
    Page("job-release", STAFF, "job"),
    Page("job-aftercare", STAFF, "finished"),
    Page("job-pickup", MONEY, "finished"),
    Page("deposit-new", MONEY, "job"),
    Page("invoice-issue", MONEY, "finished"),
    Page("job-refund", MONEY, "job"),
    Page("job-uncharged", MONEY, "finished"),
    Page("job-keep-deposit", MONEY, "uncharged"),
    Page("job-charged", MONEY, "uncharged", get=405),
    Page("extra", STAFF, "extra"),
    Page("extra-price", MONEY, "extra"),
    Page("extra-answer", MONEY, "priced_extra"),
    Page("step", STAFF, "step"),
    Page("step-start", STAFF, "step", get=302),
    Page("step-done", STAFF, "step", get=302),
    Page("mix-new", STAFF, "mixing_step"),
    Page("warmth", STAFF),
    Page("step-warmth", STAFF, "mixing_step"),
    Page("step-use", STAFF, "step"),
    Page("sundries", STAFF, "sundries", form=True),
    Page("weigh-for-step", STAFF, "tin", form=True),
    Page("step-as-planned", STAFF, "step", get=302),
    Page("step-reopen", STAFF, "step", get=302),
    Page("step-redo", STAFF, "step"),
    Page("step-drop", STAFF, "step"),
    Page("movement-reverse", STAFF, "steps_movement"),
    Page("movement-reverse", STAFF, "mixs_movement"),
    Page("movement-reverse", STAFF, "sold_movement"),
    Page("use-undo", STAFF, "use", get=302),
    Page("use-right", STAFF, "use", get=302),
    Page("use-edit", STAFF, "use", form=True),
    Page("time-right", STAFF, "minutes", get=302),
    Page("time-edit", STAFF, "minutes", form=True),
    Page("quick", MONEY),
    Page("money", MONEY),
    Page("sale", MONEY),
    Page("invoice", MONEY, "invoice"),
    Page("invoice", MONEY, "sale"),
    Page("invoice-pdf", MONEY, "invoice"),
    Page("invoice-itemised", MONEY, "invoice"),
    Page("payment-new", MONEY, "invoice"),
    Page("refund-new", MONEY, "invoice"),
    Page("invoice-credit", MONEY, "invoice"),
    Page("receipt", MONEY, "payment"),
    Page("receipt-pdf", MONEY, "payment"),
    Page("recipes", KEEPER),
    Page("recipe-new", KEEPER),
    Page("recipe", KEEPER, "recipe"),
    Page("recipe-copy", KEEPER, "recipe"),
    Page("recipe-price-sheet", MONEY, "unpriced_recipe", form=True),
    Page("recipe-retire", KEEPER, "recipe"),
    Page("recipe-versions", KEEPER, "recipe"),
    Page("recipe-version", KEEPER, "version"),
    Page("recipe-edit", KEEPER, "draft_recipe"),
    Page("recipe-words", KEEPER, "draft_recipe"),
    Page("recipe-reference", KEEPER, "draft_recipe"),
    Page("recipe-step-new", KEEPER, "draft_recipe"),
    Page("recipe-step", KEEPER, "draft_part"),
    Page("recipe-measure-new", KEEPER, "draft_recipe"),
    Page("recipe-measure", KEEPER, "draft_part"),
    Page("recipe-place-new", KEEPER, "draft_recipe"),
    Page("recipe-place", KEEPER, "draft_part"),
    Page("recipe-sure", KEEPER, "recipe"),
    Page("own-work", KEEPER, form=True),
    Page("own-work-leave", KEEPER, get=405),
    Page("figures", KEEPER),
    Page("figure", KEEPER, "own_figure", form=True),
    Page("figure-seen", KEEPER, "own_figure", get=405),
    Page("figure-leave", KEEPER, "own_figure", get=405),
    Page("price-list", MONEY),
    Page("price-sheet", MONEY),
    Page("guesses-fill", MONEY, get=405),
    Page("price-list-web", MONEY),
    Page("price-list-print", MONEY, get=405),
    Page("price-list-pdf", MONEY, get=404),
    Page("price-list-fill", KEEPER, get=405),
    Page("price-row-new", KEEPER),
    Page("price-row", KEEPER, "price_row"),
    Page("price-row-move", KEEPER, "price_row", get=405),
    Page("repricing", MONEY),
    Page("learned", KEEPER),
    Page("learned-job", KEEPER, "finished"),
    Page("promises", KEEPER),
    Page("promise-figures", KEEPER),
    Page("backtest", KEEPER),
    Page("learn-now", KEEPER, get=405),
    Page("operations", KEEPER),
    Page("operation", KEEPER, "figure"),
)
