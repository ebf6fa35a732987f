"""The sessions a shop had at its bench, from the steps it ticked off and the cups it shared; nothing of it is kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from django.utils import timezone

from quotes.costing import REGISTRY
from quotes.costing.job.session_size import SessionSize, SessionStep, by_figure, session_size, sessions_of
from quotes.costing.steps.sessions import SessionKind
from quotes.models import Job, Step, StepUse

LOOKED_BACK = timedelta(days=365)  # a shop's habits of now, over all seasons; our own limit


def boards_seen(at: datetime) -> dict[str, SessionSize]:
    """How many boards the shop did together in the year before a moment, by the name of the figure, where enough was
    seen to say so. Two queries.
    """
    found = by_figure(sessions_of(_done(at)))
    figures = {name: session_size(trade, boards) for name, (trade, boards) in found.items()}
    return {name: one for name, one in figures.items() if one.enough}


def _done(at: datetime) -> Iterator[SessionStep]:
    """Every step done, in the order they were ticked off.

    A job done in one go was ticked off in one: the order of its steps says nothing, only the cups it shared do.
    """
    cups = _cups(at)
    rows = Step.objects.filter(state=Step.State.DONE, done_at__gte=at - LOOKED_BACK, done_at__lte=at)
    for pk, done_at, hands, operation, session, board, said, rush in rows.order_by("done_at", "pk").values_list(
        "pk", "done_at", "done_by_id", "operation", "plan__session", "job__takein__board_id", "job__hands",
        "job__way__board__quote__rush_percent",
    ):  # fmt: skip
        if said == Job.Hands.STEPS or cups.get(pk):
            day, kind = timezone.localdate(done_at), _kind(operation, session)
            yield SessionStep(hands or 0, day, kind, board, frozenset(cups.get(pk, ())), bool(rush))


def _kind(operation: str, session: SessionKind | None) -> SessionKind:
    """The kind of session of a step; of a plan that does not say so, what its operation usually is."""
    if session is not None:
        return session
    return REGISTRY[operation].session if operation in REGISTRY else ""


def _cups(at: datetime) -> Mapping[int, set[int]]:
    """By step the cups that stand on it."""
    found: dict[int, set[int]] = defaultdict(set)
    uses = StepUse.objects.filter(mix__isnull=False, undone_at__isnull=True, step__done_at__gte=at - LOOKED_BACK)
    for step, mix in uses.order_by().values_list("step_id", "mix_id").distinct():
        found[step].add(mix)
    return found
