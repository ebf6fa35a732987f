"""A board of a quote with its ways as the shop sees them; and for the shop only what each way costs, how sure that is,
and what it is made of. Nothing of the latter goes to the customer's page or paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.urls import reverse

from quotes import quoting
from quotes.billing.two_thirds import Rate, of_way
from quotes.costing import Guessed, Problem, Remedy, guessed
from quotes.costing.why.buildup import MaterialTaken, OperationShare, by_material, by_operation
from quotes.models import Job, QuoteBoard, TakeIn, Way
from quotes.papers import quote as paper
from quotes.quoting.content import built, choices_of, felt, repairs_of
from quotes.quoting.odds import Stake, stake
from quotes.views.prices.price_panel import SHOP_PAGES
from shop.countries import tax
from shop.models import Profile
from shop.text.formats import in_ten


@dataclass(frozen=True)
class WayCost:
    """What a way's cost is made of, how far it may lie, and how often it is more than the price before tax."""

    stake: Stake
    materials: list[MaterialTaken]
    operations: list[OperationShare]
    bought: list[Any]


def made_of(way: Way) -> WayCost | None:
    """From the stored snapshots; None where the way has no price or no repair."""
    snapshots = [part.estimate for part in way.parts.all()]
    if way.net is None or not snapshots:
        return None
    bought = [line for line in way.lines.all() if line.cost]
    spent = sum((line.cost for line in bought), Decimal(0))
    return WayCost(stake(snapshots, net=way.net, bought=spent), by_material(snapshots), by_operation(snapshots), bought)


@dataclass(frozen=True)
class WayReady:
    """What the shop alone sees of a way's ready day: its chance, other days, what a yes does to days promised."""

    chance: str
    even: date | None
    nine: date | None
    touched: list[str]
    trouble: str


def way_ready(way: Way, names: Mapping[int, str]) -> WayReady | None:
    """From what the way keeps; `names` of jobs by key. None where nothing was worked out."""
    kept = way.ready
    if not kept:
        return None
    chance = kept.get("chance")
    return WayReady(
        chance="" if chance is None else in_ten(chance),
        even=_day(kept.get("even")),
        nine=_day(kept.get("nine")),
        touched=[
            f"{names.get(one['job'], one['tag'])}: {in_ten(one['before'])} becomes {in_ten(one['after'])}"
            for one in kept.get("touched", ())
        ],
        trouble=kept.get("trouble", ""),
    )


def _day(kept: str | None) -> date | None:
    return date.fromisoformat(kept) if kept else None


def touched_names(quoted: Iterable[QuoteBoard]) -> dict[int, str]:
    """Names of the jobs whose promise a yes touches, by key. One query, none where it touches nobody."""
    keys = {one["job"] for board in quoted for way in board.ways.all() for one in way.ready.get("touched", ())}
    jobs = Job.objects.filter(pk__in=keys).select_related("takein__board", "takein__brought_by") if keys else []
    return {job.pk: f"{job.takein.brought_by.name}, {job.takein.board.name} (tag {job.takein.tag})" for job in jobs}


@dataclass(frozen=True)
class WayRow:
    """A way as the shop sees it on the quote."""

    way: Way
    layers: int
    pocket: bool
    shown: str | None
    problems: list[dict[str, str]]
    guessed: Guessed
    earned: float | None
    margin: float | None
    below_cost: bool
    mostly_goods: str
    too_late: bool
    ready: WayReady | None
    weight: str
    lines: list[Any]
    repairs: list[dict[str, Any]]
    choices: list[dict[str, Any]]
    more_choices: bool
    left: list[str]
    made_of: WayCost | None


def board_row(
    quoted: QuoteBoard, missing: quoting.Missing, pages: dict[str, int], shop: Profile, names: Mapping[int, str],
    goods: Rate | None = None,
) -> dict[str, Any]:  # fmt: skip
    """A board with its ways for the page of a quote: `names` of jobs whose promise a yes touches, by key; `goods` is
    the rate of goods where the two-thirds rule holds."""
    takein = quoted.takein
    ways = [_way_row(way, takein, missing, pages, shop, names, goods) for way in quoted.ways.all()]
    pinned = ", ".join(f"{damage.number} {damage.get_kind_display()}" for damage in takein.damages.all())
    return {
        "quoted": quoted,
        "takein": takein,
        "board": takein.board,
        "damages": list(takein.damages.all()),
        "drawing_words": f"The board with its damages: {pinned}" if pinned else "The board",
        "ways": ways,
        "job": next(iter(quoted.jobs.all()), None),
        "agreed": any(shown.way.agreed_at for shown in ways),
        "room": len(ways) < quoting.WAYS_AT_MOST,
    }


def _way_row(
    way: Way, takein: TakeIn, missing: quoting.Missing, pages: dict[str, int], shop: Profile, names: Mapping[int, str],
    goods: Rate | None,
) -> WayRow:  # fmt: skip
    layers, pocket = built(way)
    repairs, found = repairs_of(way), [] if way.agreed_at else choices_of(way)
    listed = paper.choices(repairs, found)
    others = {problem.text for problem in missing.others}
    problems = {problem.text: problem for problem in way.lacks if problem.text in others}
    margin = way.totals.get("margin") or {}
    mostly = of_way(way, goods) if goods else None
    return WayRow(
        way=way,
        layers=layers,
        pocket=pocket,
        shown=way.totals.get("shown"),
        problems=[_put_right(problem, way, pages) for problem in problems.values()],
        guessed=guessed(part.estimate for part in way.parts.all()),
        earned=way.totals.get("earned_per_hour"),
        margin=margin.get("of_price_percent"),
        below_cost=way.net is not None and way.cost is not None and way.net < way.cost,
        mostly_goods=mostly.words(shop) if mostly else "",
        too_late=bool(takein.needed_by and way.ready_on and way.ready_on > takein.needed_by),
        ready=way_ready(way, names),
        weight=paper.weight_words(way.added_weight_g, felt=felt(way.added_weight_g, shop)),
        lines=list(way.lines.all()),
        repairs=repairs,
        choices=listed,
        more_choices=len(found) > len(listed),
        left=[one["name"] for one in way.totals.get("left", ())],
        made_of=made_of(way),
    )


def _put_right(problem: Problem, way: Way, pages: dict[str, int]) -> dict[str, str]:
    """A sentence of what is missing, and where it is filled in."""
    href, words = _page_of(problem.remedy, way, pages)
    return {"text": problem.text, "href": href, "words": words}


def _page_of(remedy: Remedy, way: Way, pages: dict[str, int]) -> tuple[str, str]:
    match remedy:
        case Remedy("material", name) if name in pages:
            return reverse("material", args=[pages[name]]), "Open it in the store"
        case Remedy("material"):
            return reverse("material-new"), "Add it"
        case Remedy("board", "wet"):
            return reverse("takein-edit", args=[way.board.takein_id]), "Say whether it is dry"
        case Remedy("shop", name):
            return reverse(SHOP_PAGES.get(name, "shop-edit")), "Open the shop’s settings"
    return reverse("way-edit", args=[way.pk]), "Open the way"


def tax_hint(profile: Profile) -> str:
    """The words under a price."""
    rules = tax.profile(profile.tax_profile)
    if not rules.registered:
        return "no tax is charged"
    return f"{rules.tax_word} included" if profile.prices_include_tax else f"plus {rules.tax_word}"


def plus_tax(profile: Profile) -> bool:
    """Whether tax comes on top of what a price says."""
    return profile.charges_tax and not profile.prices_include_tax
