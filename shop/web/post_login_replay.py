"""What somebody typed whose login had run out, carried across the login and shown again, to be looked at and sent.

It travels in the login page itself, signed, so that only what was really sent to a page of ours comes back; nothing is
kept here. It is never sent by itself: who logged in taps once to see the form filled, and once more to send it, and
`shop.web.submission.once` takes nothing that is only to be looked at. Forms from elsewhere do not come this far, for a
POST without our token is refused before. Left out: passwords, files, what is only a button, views marked `typed_anew`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

from django.core import signing
from django.http import HttpRequest

View = TypeVar("View", bound=Callable[..., Any])

LOOK_AGAIN = "look_again"  # the entry that says: show it, take nothing
NOT_TYPED = {"csrfmiddlewaretoken", "submission_key", "save", LOOK_AGAIN}
MOST = 50_000  # signs of all entries together; our own limit, some twenty full pages
HOW_LONG = 3600  # s from the POST to the login
SALT = "carried across a login"


class CarriedEntries(NamedTuple):
    """Where a form was sent, and its entries as they were typed."""

    path: str
    entries: list[tuple[str, str]]


def typed_anew(view: View) -> View:
    """Mark a view whose entries are never carried across a login: money taken or given, and who may do what."""
    view.typed_anew = True  # type: ignore[attr-defined]
    return view


def carry(request: HttpRequest, view: Any) -> str:
    """The entries of a POST, signed for the login page; empty where there is nothing to carry or it must not be."""
    htmx = request.htmx  # type: ignore[attr-defined]
    if "submission_key" not in request.POST or hasattr(view, "typed_anew") or (htmx and not htmx.boosted):
        return ""
    entries = [(name, value) for name in request.POST for value in request.POST.getlist(name) if value]
    typed = [name for name, _ in entries if name not in NOT_TYPED]
    if not typed or any("password" in name for name in typed) or sum(len(n) + len(v) for n, v in entries) > MOST:
        return ""
    kept = [entry for entry in entries if entry[0] not in ("csrfmiddlewaretoken", LOOK_AGAIN)]
    return signing.dumps([request.get_full_path(), kept], salt=SALT, compress=True)


def carried(signed: str) -> CarriedEntries | None:
    """What `carry` signed less than an hour ago; None for anything else."""
    try:
        path, entries = signing.loads(signed, salt=SALT, max_age=HOW_LONG)
    except signing.BadSignature:
        return None
    return CarriedEntries(path, [(name, value) for name, value in entries])
