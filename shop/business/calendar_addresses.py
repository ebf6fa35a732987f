"""Addresses by which a calendar reads ready days and the bench's plan: made, shown, taken back.

Idea: half of an address's secret is its row's nonce, the other half the service's own key, so that neither a backup nor
the key alone opens it. Whoever has the address reads, and can do nothing else.
"""

from __future__ import annotations

import secrets

from django.utils.crypto import constant_time_compare, salted_hmac

from shop.models import CalendarAddress, Role
from shop.platform.acts import Refused, Signed, action, checked

SALT = "shop.calendar_address"
MOST_ADDRESSES = 25  # that stand; each is compared with what was asked for


@action("calendar.make", Role.KEEPER)
def make_address(*, signed: Signed, name: str) -> CalendarAddress:
    """An address for somebody's calendar, named so that it can be told apart when it is taken back. Raises Refused."""
    if CalendarAddress.objects.filter(revoked_at=None).count() >= MOST_ADDRESSES:
        raise Refused(f"There are {MOST_ADDRESSES} addresses already: take back one that nobody reads.", field="name")
    address = CalendarAddress(nonce=secrets.token_hex(16), name=name, made_at=signed.at, by=signed.by)
    checked(address).save()
    signed.record(address, f"Made a calendar address: {name}")
    return address


@action("calendar.take_back", Role.KEEPER)
def take_address_back(*, signed: Signed, address: CalendarAddress) -> CalendarAddress:
    """From now on nobody reads by this address; nothing happens if it was taken back just before."""
    row = CalendarAddress.objects.select_for_update().get(pk=address.pk)
    if row.revoked_at is None:
        row.revoked_at = signed.at
        row.save(update_fields=["revoked_at"])
        signed.record(row, f"Took a calendar address back: {row.name}")
    return row


def token_of(address: CalendarAddress) -> str:
    """The secret part of an address: 64 signs that follow from its nonce and the service's key."""
    return salted_hmac(SALT, address.nonce, algorithm="sha256").hexdigest()


def address_of(token: str) -> CalendarAddress | None:
    """The address that stands behind a secret; None for a wrong one or one taken back. One query.

    All that stand are compared, each in constant time, so that how long it takes tells nothing.
    """
    found = None
    for address in CalendarAddress.objects.filter(revoked_at=None):
        if constant_time_compare(token_of(address), token):
            found = address
    return found


def unlike(key: str) -> str:
    """A name that no other shop's calendar has for the same row, and that stays: for what a calendar tells apart by."""
    return salted_hmac(f"{SALT}.uid", key, algorithm="sha256").hexdigest()[:32]
