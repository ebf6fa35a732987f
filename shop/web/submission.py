"""One record for a form, however often it is sent: double taps, retries and two windows.

Every form that changes something carries a `submission_key` made when it was shown. The key is kept in the same
transaction as what the form did; the same key again leads to where the first answer led.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from shop.forms.fields import ShedForm
from shop.models import Submission
from shop.platform.acts import Refused, writing
from shop.web.middleware import without_nul
from shop.web.post_login_replay import LOOK_AGAIN
from shop.web.request import ShopRequest

MOST_ASKED = 80  # signs of a search
NOT_PART_OF_THE_BODY = {"csrfmiddlewaretoken", "submission_key"}


def new_key() -> str:
    """Key of a form that was not sent yet."""
    return str(uuid.uuid4())


def _key(request: ShopRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("submission_key", ""))
    except ValueError:
        raise Refused("This form is from an older page. Open the page again and send it once more.") from None


def _body_hash(request: ShopRequest) -> str:
    """What was sent, files too: two pictures under one key are two, and the second is not dropped in silence."""
    items = sorted((k, v) for k in request.POST if k not in NOT_PART_OF_THE_BODY for v in request.POST.getlist(k))
    files = sorted((k, _file_hash(f)) for k in request.FILES for f in request.FILES.getlist(k))
    return hashlib.sha256(repr((request.path, items, files)).encode()).hexdigest()


def _file_hash(file: UploadedFile[Any]) -> str:
    running = hashlib.sha256()
    for chunk in file.chunks():
        running.update(chunk)
    file.seek(0)
    return running.hexdigest()


def sent(request: ShopRequest) -> Any:
    """What the form was sent with, or None while it is only shown."""
    return request.POST if request.method == "POST" else None


def sent_files(request: ShopRequest) -> Any:
    """The files the form was sent with, or None while it is only shown."""
    return request.FILES if request.method == "POST" else None


def asked_for(request: ShopRequest, name: str = "q", most: int = MOST_ASKED) -> str:
    """The words that a page is asked for under a name, without blanks around them and at most so many signs."""
    words = request.POST.get(name) or request.GET.get(name) or ""
    return without_nul(words).strip()[:most]


def came_from(request: ShopRequest, otherwise: str, name: str = "from") -> str:
    """The page that somebody came from and goes back to, as the address says under a name; only ever one of ours."""
    asked = request.POST.get(name) or request.GET.get(name) or ""
    host, safe = {request.get_host()}, request.is_secure()
    ours = asked.startswith("/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=host, require_https=safe)
    return asked if ours else otherwise


def once(request: ShopRequest, act: Callable[[], str]) -> HttpResponseRedirect:
    """Run `act` (it returns where to go next) unless this form was already taken; then go where it led.

    Raises Refused when the form has no key, when the same key comes with other entries, when it is only to be looked at
    after a login, or when `act` refuses; nothing is stored then.
    """
    if LOOK_AGAIN in request.POST:
        raise Refused("You were logged out before this was recorded. Look at it once more, then send it.")
    key, body = _key(request), _body_hash(request)
    user = request.user if request.user.is_authenticated else None
    with writing():
        try:
            with transaction.atomic():
                taken = Submission.objects.create(key=key, user=user, body_hash=body)
        except IntegrityError:
            first = Submission.objects.get(key=key)
            if first.body_hash != body or first.user_id != (user.pk if user else None):
                raise Refused(
                    "This form was already sent with other entries. Open the page again to see what was recorded."
                ) from None
            return HttpResponseRedirect(first.answer)
        taken.answer = act()
        taken.save(update_fields=["answer"])
    return HttpResponseRedirect(taken.answer)


def _led_before(request: ShopRequest) -> HttpResponseRedirect | None:
    """Where this very form led the first time: what it asked for is done, though it would be refused by now."""
    try:
        key = _key(request)
    except Refused:
        return None
    user = request.user.pk if request.user.is_authenticated else None
    first = Submission.objects.filter(key=key, user=user, body_hash=_body_hash(request)).first()
    return HttpResponseRedirect(first.answer) if first else None


def filled(request: ShopRequest, form: ShedForm, act: Callable[[], str]) -> HttpResponseRedirect | None:
    """Where a form that was sent led; None when it is to be shown again (status 422) with what was wrong beside it."""
    if not form.is_valid():
        return _led_before(request) if form.is_bound else None
    try:
        return once(request, act)
    except ValidationError as problem:  # a verb's no, or a figure larger than can be kept
        form.refuse(problem)
        return None


def said_or_done(request: ShopRequest, act: Callable[[], str], back: str) -> HttpResponse:
    """For a form of one button: its refusal is a sentence above the page it goes back to."""
    try:
        return once(request, act)
    except ValidationError as problem:
        for sentence in problem.messages:
            messages.error(request, sentence)
        return redirect(back)
