"""A shop of an earlier version is brought up to this one: every page opens, quoting goes on, the books are right.

`shop-….zip` are backups made by three earlier commits, named by them, with each one's own code: its demo as of
24 November 2026, its `tick`, its `backup`. Each paper in them is a line that names what it was made from. The last
version before the first release brought them through its migrations, as it does for any shop of then, and worked
nothing else out; since then only the packing was made tighter. They are never made anew; a version that changes what
rows hold adds its own.
"""

from __future__ import annotations

import html
import io
import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
import time_machine
from django.core.management import call_command
from django.db.models import Count
from django.test import Client
from django.urls import Resolver404, resolve, reverse

from inventory.counting import counts as counting
from inventory.counting import weighing
from inventory.models import Lot, Material, Movement
from inventory.stock import books as store_books
from quotes import bench, billing, experience, quoting
from quotes.billing import books as paper_books
from quotes.costing import STARTING_RECIPES
from quotes.estimating import core_recipe, taught
from quotes.models import (
    Backtest,
    Experience,
    InvoiceLine,
    Job,
    Payment,
    Recipe,
    RecipeVersion,
    StepUse,
    TakeIn,
    WayPart,
)
from quotes.recipes import edit_recipe
from quotes.recipes.versions import same_words
from shop.bringing import lists as bringing
from shop.models import Customer, JournalEntry, User
from shop.papers import paper
from shop.platform.acts import Signed
from shop.platform.restoring import restore_backup
from tests import walker
from tests.conftest import logged_in
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import seed
from tests.quotes import walk as _quotes  # noqa: F401
from tests.quotes.bench.test_standing import check_undoing
from tests.shop import walk as _shop  # noqa: F401

HERE = Path(__file__).parent
BACKUPS = [HERE / f"shop-{commit}.zip" for commit in ("36433ba", "63fc570", "99fa204")]
AFTERWARDS = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
NO_ROWS = {
    "photo",
    "photo-small",
    "data-sheet-file",
    "supplier-price-list",
    "supplier-price-list-tie",
    "question-answer",
    "calendar",  # nobody subscribed then
    "job-keep-deposit",  # every deposit went into an invoice
    "sundries",  # jobs of before have theirs at a step
}  # some demo has none
TRIED_APART = {"operation", "invoice-issue", "job-uncharged"}  # once something is learned, and before it is invoiced
BY_SHELF = {"shelf-labels", "place-edit"}  # asked without a shelf they are of what stands on none, and here all do
A_FEW = 3  # rows of each kind whose pages are opened, the last ones
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(params=BACKUPS, ids=lambda path: path.stem)
def shop(request, settings, tmp_path):
    """The database as an older version left it, read by the code of today on the morning after."""
    settings.DATA_DIR = tmp_path
    settings.MEDIA_ROOT = tmp_path / "media"
    with time_machine.travel(AFTERWARDS):
        yield request.param


@pytest.fixture
def one_of_each_set(monkeypatch):
    """The first paper from each template is really set; of those after it all is made but how the lines fall."""
    words, setting, seen = paper.render_to_string, paper._set, []

    def written(template, context):
        seen.append(template)
        return words(template, context)

    def set_if_first(html, tagged):
        return setting(html, tagged) if seen.count(seen[-1]) == 1 else (b"%PDF of " + seen[-1].encode(), [])

    monkeypatch.setattr(paper, "render_to_string", written)
    monkeypatch.setattr(paper, "_set", set_if_first)


HREF = re.compile(r'href="(/[^"#]*)')
BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}


def worked_on(by: User, client: Client) -> list[str]:
    """Work goes on with the rows of before; gives the addresses of what is under way."""
    at = AFTERWARDS
    old = TakeIn.objects.select_related("board", "brought_by").order_by("pk").first()
    takein = quoting.take_in(
        brought_by=old.brought_by,
        board=old.board,
        damages=[seed.crushed_box()],
        checks=seed.checked(),
        signed=Signed(by, at),
    )
    quote = quoting.start_quote(takeins=[takein], signed=Signed(by, at))
    way = quoting.add_way(
        board=quote.boards.get(), damage=takein.damages.get(), version=Recipe.objects.get(key="fin-box").current,
        measures=BOX, signed=Signed(by, at),
    )  # fmt: skip
    assert way.gross > 0
    line = quoting.add_line(way=way, words="Courier", price=Decimal(20), signed=Signed(by, at))
    job = Job.objects.filter(state=Job.State.OPEN, steps__state="todo").order_by("pk").first()
    extra = bench.note_found(job=job, words="Wet foam 60 mm further", signed=Signed(by, at))
    steps = [step for step in job.steps.order_by("position") if step.ahead]
    mixing = next(step for step in steps if step.plan.get("mixes"))
    resin = Material.objects.get(key=bench.doses(mixing)[0].resin)
    use = bench.record_use(step=steps[0], material=resin, quantity=Decimal(3), signed=Signed(by, at))
    done = Job.objects.filter(state=Job.State.FINISHED).order_by("pk").first()
    for name in ("invoice-issue", "job-uncharged"):
        assert client.get(reverse(name, args=[done.pk])).status_code == 200
    invoice = billing.issue_invoice(jobs=[done], signed=Signed(by, at))
    recipe = Recipe.objects.order_by("pk").first()
    edit_recipe(recipe=recipe, signed=Signed(by, at))
    count = counting.start_count(shelf="", everything=True, blind=False, signed=Signed(by, at))
    lot = Lot.objects.left().filter(material=resin).first()
    weighing.add_container(
        lot=lot, name="tin", tare_g=Decimal(300), holds=lot.quantity_left, signed=Signed(by, at), happened_at=at
    )
    people = bringing.keep_people(
        name="people.csv", text="name;phone\nAoife Marlin;020 910 0611\n", signed=Signed(by, at)
    )
    twice = Customer.objects.create(name=old.brought_by.name)
    board, receipt = old.board, Payment.objects.exclude(invoice=None).order_by("pk").first()
    rows = {
        "quote": [quote], "quote-new": [TakeIn.objects.order_by("pk").last()], "photo-add": [board], "quote-board-new": [quote], "quote-price-sheet": [quote], "people-bring": [people], "way-edit": [way], "part-new": [way], "way-line-edit": [line],
        "job": [job, done], "job-sheet": [job], "job-release": [job], "job-refund": [job], "step": [steps[0], mixing], "mix-new": [mixing], "step-warmth": [mixing], "extra": [extra], "use-edit": [use],
        "invoice": [invoice], "refund-new": [receipt.invoice], "receipt": [receipt], "count": [count], "lot": [lot],
    }  # fmt: skip
    where = [reverse(name, args=[row.pk]) for name, found in rows.items() for row in found]
    where += [reverse(name, args=[recipe.key]) for name in ("recipe-edit", "recipe-price-sheet")]
    return [*where, reverse("customer-make-one", args=[old.brought_by.pk, twice.pk])]


def opened(client: Client, also: Iterable[str], wrong: list[str]) -> dict[str, list[str]]:
    """Every page that the walk lists without a row, what is `also` asked, and on from there; of each kind a few.

    By name the addresses that answered 200. What answers otherwise is told in `wrong`, a redirect of ours apart.
    """
    asked = [page for page in walker.PAGES if not page.row and page.get in (200, 302) and page.name not in BY_SHELF]
    queue = [walker.address(page, walker.Rows({})) for page in asked]
    queue = [*also, *(where for where in queue if where != reverse("login"))]
    listed, found, seen, tried = set(queue), defaultdict(list), set(queue), Counter()
    while queue:
        where = queue.pop(0)
        try:
            name = resolve(where.partition("?")[0]).url_name
        except Resolver404:
            continue  # a file
        if where not in listed and tried[name] >= A_FEW:
            continue
        tried[name] += 1
        answer = client.get(where)
        if answer.status_code == 200:
            found[name].append(where)
        elif answer.status_code not in (302, 405):
            wrong.append(f"{name}: {where} answers {answer.status_code}")
        links = [answer["Location"]] if answer.status_code == 302 else []
        if answer.get("Content-Type", "").startswith("text/html"):
            links += [html.unescape(link) for link in HREF.findall(answer.content.decode())]
        queue += [link for link in dict.fromkeys(links) if link not in seen]
        seen.update(links)
    return found


def problems() -> list[str]:
    return [*store_books.problems(), *paper_books.problems()]


def unread() -> bool:
    """Whether what is kept as learned, or as foretold, is another version's."""
    return (Experience.objects.count(), Backtest.objects.count()) != (
        Experience.objects.readable().count(),
        Backtest.objects.readable().count(),
    )


def as_migrations_left_them() -> None:
    """What the version before made of older rows: taps and lines by hand are known by key, names are found."""
    taps = StepUse.objects.exclude(mix=None).values("mix").annotate(taps=Count("tap", distinct=True))
    assert {row["taps"] for row in taps} == {1}
    assert StepUse.objects.values("tap").distinct().count() > taps.count()
    assert [line.words for line in InvoiceLine.objects.filter(by_hand=True)] == ["Pair of wooden keels"]
    assert not Customer.objects.filter(name_folded="").exists()


@pytest.mark.slow
def test_a_shop_of_before_goes_on_before_anything_is_learned_anew(shop, one_of_each_set):
    """The worst of it: restored, migrated, and nobody has worked out anew what was learned. Then `tick` does."""
    restore_backup(shop, replace=False, at=AFTERWARDS, backups=shop.parent)
    as_migrations_left_them()
    assert unread()
    assert taught() == {}, "what another version learned is not read"
    assert problems() == []
    keeper, wrong = User.objects.filter(role="keeper").first(), []
    client = logged_in(keeper)
    client.raise_request_exception = False
    found = opened(client, worked_on(keeper, client), wrong)
    assert not wrong, "\n".join(wrong)
    wanted = {page.name for page in walker.PAGES if page.get == 200} - NO_ROWS - TRIED_APART - BY_SHELF
    assert wanted <= set(found), f"give worked_on a row for {sorted(wanted - set(found))}"
    assert "Learn now" in client.get(reverse("operations")).content.decode()

    call_command("tick", stdout=io.StringIO())
    assert not unread()
    assert experience.experience().stale_since is None
    assert taught()["learned"]
    one = experience.own_figures()[0]
    where = [reverse(name) for name in ("learned", "operations", "backtest", "recipes", "price-list", "repricing")]
    where += [reverse("operation", args=[one.operation, one.material]), found["quote"][0], found["way-why"][0]]
    assert {client.get(page).status_code for page in where} == {200}
    assert Backtest.objects.get().answer["summary"]
    assert problems() == []


def recipes_follow_the_house() -> None:
    """Each recipe that nobody touched says what the house says now, and what was quoted keeps what it was quoted by."""
    untouched = [version for version in RecipeVersion.objects.current() if version.by is None]
    assert {version.recipe.key for version in untouched} == set(STARTING_RECIPES)
    assert all(same_words(version.body, STARTING_RECIPES[version.recipe.key]) for version in untouched)
    assert any(version.number > 1 for version in untouched)
    assert not [version for version in untouched if (core := core_recipe(version)).problems() or core.layer_problems()]
    assert set(WayPart.objects.values_list("recipe_version__number", flat=True)) == {1}
    assert JournalEntry.objects.filter(verb="recipe.renew").exists()


@pytest.mark.slow
def test_restoring_learns_anew_and_undo_in_the_store_leaves_the_books_right(shop):
    said = io.StringIO()
    call_command("restore", str(shop), stdout=said)
    assert "Learned anew from 22 jobs." in said.getvalue()
    assert not unread()
    recipes_follow_the_house()
    hands = logged_in(User.objects.filter(role="bench").first())
    kinds = Movement.objects.order_by("kind").values_list("kind", flat=True).distinct()
    first_and_last = [Movement.objects.filter(kind=kind).order_by(way)[:3] for kind in kinds for way in ("pk", "-pk")]
    check_undoing(hands, [movement for few in first_and_last for movement in few])
    assert problems() == []
