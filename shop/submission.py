"""One record for a form, however often it is sent: double taps, retries and two windows.

Every form that changes something carries a `submission_key` made when it was shown. The key is kept in the same
transaction as what the form did; the same key again leads to where the first answer led.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable

from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponseRedirect

from shop.acts import Refused, writing
from shop.models import Submission

NOT_PART_OF_THE_BODY = {"csrfmiddlewaretoken", "submission_key"}


def new_key() -> str:
    return str(uuid.uuid4())


def _key(request: HttpRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("submission_key", ""))
    except ValueError:
        raise Refused("This form is from an older page. Open the page again and send it once more.") from None


def _body_hash(request: HttpRequest) -> str:
    items = sorted((k, v) for k in request.POST if k not in NOT_PART_OF_THE_BODY for v in request.POST.getlist(k))
    return hashlib.sha256(repr((request.path, items)).encode()).hexdigest()


def once(request: HttpRequest, act: Callable[[], str]) -> HttpResponseRedirect:
    """Run `act` (it returns where to go next) unless this form was already taken; then go where it led.

    Raises Refused when the form has no key, when the same key comes with other entries, or when `act` refuses;
    nothing is stored then.
    """
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
