"""What the shop's own past teaches: jobs against their quotes, and what was earned.

For the keeper, since it shows wages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from inventory.models import Material
from quotes import experience
from quotes import lookback as book
from quotes.costing.stats.assumptions import MINUTES
from quotes.lookback.past import Past
from quotes.models import Experience, Step
from shop.measures.money import from_float, round_money, show_money, spread
from shop.models import Role
from shop.papers import charts
from shop.web.access import open_to
from shop.web.page import button
from shop.web.request import ShopRequest
from shop.web.submission import asked_for

FIGURES_SHOWN = 15  # on one page
LOGS_SHOWN = 10  # on one page, the last first
JOBS_SUMMED = 100  # the last ones, over which the page's sums are
JOBS_SHOWN = 10  # on one page of the table
DOUBTS_SHOWN = 5  # above the list of operations, the last ones
DOTS = 60  # logs that are drawn, the last ones
STRIPS = 40  # the last of them that are drawn: more would touch


@open_to(Role.KEEPER)
def learned(request: ShopRequest) -> HttpResponse:
    """The last hundred ended jobs against their quotes in sum, and all of them by pages or as they are asked for."""
    q = asked_for(request)
    page = Paginator(book.ended().named(q), JOBS_SHOWN).get_page(request.GET.get("page"))
    summed = list(book.ended()[:JOBS_SUMMED])
    beyond = [job for job in page if job not in summed]
    looked = {one.job: one for one in book.looked_back([*summed, *beyond])}
    past = [looked[job] for job in summed]
    found = book.overall(past)
    days = [kept for job in summed if (kept := book.day_kept(job, request.shop)) is not None]
    drawn = [one for one in reversed(past) if one.said is not None][-STRIPS:]
    return render(
        request,
        "quotes/learned.html",
        {
            "page": page,
            "shown": [looked[job] for job in page],
            "q": q,
            "query": urlencode({"q": q}) if q else "",
            "past": past,
            "most": JOBS_SUMMED,
            "all": found,
            "promised": len(days),
            "kept": sum(days),
            "strips": charts.strips([_strip(one) for one in drawn]) if drawn else None,
            "drawn": len(drawn),
            "bars": _earned(request, found) if found.kinds else None,
            "losing": [kind for kind in found.kinds if kind.gain < 0],
            **_not_learned(experience.experience()),
        },
    )


def _not_learned(row: Experience) -> dict[str, Any]:
    """What the pages say about that which is written down and not learned from yet. Six queries, or none."""
    if row.stale_since is None:
        return {"stale": None}
    at_once = experience.size() <= experience.LEARNED_WHILE_WAITING
    return {"stale": row, "waiting": experience.waiting(row), "at_once": at_once}


learn_now = require_POST(  # what waits is learned while the keeper waits
    button(experience.learn_now, to="operations", says="Learned from all that is written down.")
)


def _strip(one: Past) -> tuple[float, float, float]:
    """The range and the truth as shares of the middle that was said."""
    assert one.said is not None
    return charts.shares(*one.said, one.real_first)


def _earned(request: ShopRequest, found: book.Overall) -> charts.Bars:
    shop = request.shop
    rows = [
        (
            f"{kind.name}, {show_money(round_money(from_float(kind.per_hour), shop.currency), shop.currency, shop.locale)}",
            kind.per_hour,
        )
        for kind in found.kinds
        if kind.per_hour is not None
    ]
    return charts.bars(rows, found.wage)


@open_to(Role.KEEPER)
def learned_job(request: ShopRequest, pk: int) -> HttpResponse:
    """One ended job, step by step: quoted, expected by what is known now, and real."""
    job = get_object_or_404(book.ended(), pk=pk)
    [past] = book.looked_back([job])
    return render(
        request,
        "quotes/learned_job.html",
        {
            "past": past,
            "job": job,
            "takein": job.takein,
            "board": job.takein.board,
            "learned": experience.experience(),
            **_table(past),
        },
    )


def _table(past: Past) -> dict[str, Any]:
    """The rows with their cents, each column adding up to its sum."""
    rows, currency = book.compared(past), past.truth.currency
    columns = {
        "quoted": _cents([row.quoted_cost for row in rows], currency),
        "expected": _cents([row.expected_cost for row in rows], currency),
        "real": _cents([row.real_cost for row in rows], currency),
        "by_price": _cents([row.variance.price for row in rows], currency),
        "by_quantity": _cents([row.variance.quantity for row in rows], currency),
    }
    lines = [dict(zip(columns, figures, strict=True)) for figures in zip(*columns.values(), strict=True)]
    shown: list[dict[str, Any]] = [
        {"row": row, "likely": _likely(row), **line} for row, line in zip(rows, lines, strict=True)
    ]
    return {
        "rows": shown,
        "differ": [line for line in shown if line["by_price"] or line["by_quantity"]],
        "as_quoted": [line for line in shown if not line["by_price"] and not line["by_quantity"]],
        "sums": {name: sum(column, Decimal(0)) for name, column in columns.items()},
    }


def _likely(row: book.Compared) -> tuple[float, ...] | None:
    """The range of use to three figures, as quantities are shown."""
    return row.likely and tuple(float(f"{end:.3g}") for end in row.likely)


def _cents(figures: Sequence[float], currency: str) -> list[Decimal]:
    return spread([from_float(figure) for figure in figures], currency)


@open_to(Role.KEEPER)
def operations(request: ShopRequest) -> HttpResponse:
    """Every factor that the shop's jobs have met, or those that are asked for.

    What differs most from the trade first, then what most is written down about.
    """
    q = asked_for(request)
    present = experience.current_state()
    names = dict(Material.objects.values_list("key", "name"))
    rows = [_figure(figure, names) for figure in experience.own_figures(present)]
    words = q.casefold().split()
    found = [row for row in rows if all(word in f"{row['operation']} {row['name']}".casefold() for word in words)]
    found.sort(key=lambda row: (-_apart(row["figure"]), -row["figure"].logs, row["operation"], row["name"]))
    page = Paginator(found, FIGURES_SHOWN).get_page(request.GET.get("page"))
    context = {"present": present, "page": page, "q": q, "query": urlencode({"q": q}) if q else "", "known": bool(rows)}
    if not q and page.number == 1:
        doubtful = [one for one in present.row.doubtful if not one.get("kept")]
        context |= {"doubtful": doubtful[-DOUBTS_SHOWN:][::-1], "in_doubt": len(doubtful)}
    context |= _not_learned(present.row)
    return render(request, "quotes/operations.html", context)


def _apart(figure: experience.LearnedFigure) -> float:
    """How many times what is used lies from the trade, to the hundredth that is shown.

    Twice as much is as far as half.
    """
    times = figure.used / figure.trade.mid
    return round(max(times, 1.0 / times), 2)


@open_to(Role.KEEPER)
def operation(request: ShopRequest, operation: str, material: str) -> HttpResponse:
    """One factor: the trade's range, the logged jobs, and what was learned from them."""
    present = experience.current_state()
    figure = experience.own_figure(operation, material, present)
    if figure is None:
        raise Http404("No job has met this operation and material.")
    stock = Material.objects.filter(key=material).first()
    logged = experience.logged_points(operation, material, present.row)
    trade = figure.trade
    found = [one for one in present.row.doubtful if (one["operation"], one["material"]) == (operation, material)]
    kept = {int(one["job"]) for one in found if one.get("kept")}
    page = Paginator(logged[::-1], LOGS_SHOWN).get_page(request.GET.get("page"))
    tags = experience.tags(str(point.job) for point in page)
    context = {
        "row": _figure(figure, {material: stock.name} if stock else {}),
        "unit": stock.unit if stock else "min",
        "page": page,
        "shown": [(point, tags.get(str(point.job), "")) for point in page],
        "doubtful": _doubtful(operation, material, [one for one in found if not one.get("kept")]),
        "kept": kept,
        "again": experience.again_of(operation, present.row),
        "chart": charts.points(
            (trade.mid, trade.low, trade.high),
            (figure.used, figure.low, figure.high),
            [(point.factor, point.doubtful) for point in logged[-DOTS:]],
        ),
    }
    return render(request, "quotes/operation.html", context)


def _doubtful(operation: str, material: str, found: Sequence[Mapping[str, Any]]) -> list[tuple[str, int | None]]:
    """Each doubt's sentence with the step where it can be answered, None for what belongs to no single step.

    One query.
    """
    steps = Step.objects.filter(job__in=[int(one["job"]) for one in found], operation=operation).order_by("-position")
    if material != MINUTES:
        steps = steps.filter(uses__material__key=material, uses__undone_at__isnull=True)
    where = dict(steps.values_list("job", "pk"))
    return [(one["explanation"], where.get(int(one["job"]))) for one in found]


def _figure(figure: experience.LearnedFigure, names: Mapping[str, str]) -> dict[str, Any]:
    return {
        "figure": figure,
        "operation": book.operation_name(figure.operation),
        "name": "Minutes" if figure.labour else names.get(figure.material, figure.material),
        "sure": round(figure.sure * 100),
    }
