"""What must not be done, on a page: the sentences, and where each way out of it leads."""

from __future__ import annotations

from collections.abc import Iterable, Set
from typing import Any

from django.urls import reverse

from quotes import quoting
from quotes.costing import Refusal
from quotes.models import Job, Quote, Step, TakeIn
from shop.models import Role, User
from shop.platform.acts import SEES_MONEY


def refused_shown(
    refusals: Iterable[Refusal], takein: TakeIn, person: User, *, job: Job | None = None, quote: Quote | None = None,
    step: Step | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Sentences, what to do about them, and links for who looks; empty where nothing is refused.

    On the page of a `step` how warm the shop is is said there, and leads back to it.
    """
    refusals = list(refusals)
    if not refusals:
        return {}
    because = {refusal.because for refusal in refusals}
    return {
        "texts": list(dict.fromkeys(refusal.text for refusal in refusals)),
        "todo": quoting.what_to_do(refusals),
        "links": [*_links(because, takein, person, job, quote), *_to_warmth(because, person, job, step)],
    }


def _links(
    because: Set[str], takein: TakeIn, person: User, job: Job | None, quote: Quote | None
) -> Iterable[tuple[str, str]]:
    """(address, words); the bench can only tell the counter."""
    if person.role in SEES_MONEY:
        if job is not None and because - {"temperature"}:
            yield reverse("job-another-way", args=[job.pk]), "Another way"
        if quote is not None and quote.state == Quote.State.SENT and because - {"temperature"}:
            yield reverse("quote-replace", args=[quote.pk]), "Replace the quote by a new version"
        if quote is not None and quote.open_to_change:
            yield reverse("quote", args=[quote.pk]), "Work the quote out again"
        if "construction" in because:
            yield reverse("board-edit", args=[takein.board_id]), "Change the board"
        if "wet" in because:
            yield reverse("takein-edit", args=[takein.pk]), "Say whether it is dry"
    elif job is not None:
        yield reverse("bench-note", args=[job.pk]), "Tell the counter what turned up"


def _to_warmth(because: Set[str], person: User, job: Job | None, step: Step | None) -> Iterable[tuple[str, str]]:
    """At the bench anybody says how warm it is; a quote goes by the shop's usual temperature, which the keeper sets."""
    if "temperature" in because and job is not None:
        yield reverse("step-warmth", args=[step.pk]) if step else reverse("warmth"), "Say how warm the shop is"
    elif "temperature" in because and person.role == Role.KEEPER:
        yield reverse("shop-edit"), "The shop’s temperature"
