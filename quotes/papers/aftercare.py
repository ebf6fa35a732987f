"""What goes home with a mended board: what was done, what was looked at before it left, and how to treat it."""

from __future__ import annotations

from typing import Any

from quotes.models import Job, Step
from shop.models import Profile
from shop.paper import render

# Where no recipe of the job says anything of its own; common practice, no source.
USUAL = ("Keep the board out of the sun and out of a hot car for a week.",)


def pdf(job: Job, *, profile: Profile) -> bytes:
    """The PDF bytes of a job's aftercare sheet; made anew whenever it is asked for."""
    context: dict[str, Any] = {
        "paper": profile.paper,
        "lang": "en",
        "locale": profile.locale,
        "currency": profile.currency,
        "seller": {name: getattr(profile, name) for name in ("name", "address", "phone", "email", "website")},
        "document_name": f"Aftercare {job.takein.tag}",
        "document_lines": [],
        "foot_words": f"Aftercare {job.takein.tag} · {profile.name}",
        "job": job,
        "takein": job.takein,
        "lines": aftercare_of(job),
        "checked": [check["line"] for check in job.release_check if check["ok"]],
    }
    return render("papers/aftercare.html", context)


def aftercare_of(job: Job) -> list[str]:
    """The aftercare of each recipe that was done, each sentence once; the shop's usual where none says any."""
    done = {step.part_id: step.part for step in job.steps.exclude(state=Step.State.DROPPED).select_related("part")}
    lists = [part.snapshot.get("aftercare") or () for part in done.values() if part is not None]
    return list(dict.fromkeys(line for lines in lists for line in lines)) or list(USUAL)
