"""The verbs of logins: who works here, as what, and with which password."""

from __future__ import annotations

from axes.utils import reset as forget_failed_logins
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from shop.business.hands import hours_change
from shop.models import Role, User
from shop.platform.acts import Refused, Signed, action, checked


@action("staff.add", Role.KEEPER)
def add_login(*, signed: Signed, username: str, name: str, role: str, password: str) -> User:
    """A login for someone who works here. Raises Refused."""
    person = new_login(username=username, name=name, role=role, password=password)
    signed.record(person, f"Made a login for {person.name}")
    return person


def new_login(*, username: str, name: str, role: str, password: str) -> User:
    """The row itself, checked; also what set-up makes the first keeper with, when nobody is there yet to do it."""
    person = User(username=username.strip().lower(), name=name.strip(), role=role)
    if User.objects.filter(username=person.username).exists():
        raise Refused("Another login has this name already; choose another.", field="username")
    _good_password(person, password)
    person.set_password(password)
    checked(person).save()
    return person


@action("staff.change", Role.KEEPER)
def change_login(*, signed: Signed, person: User, name: str, role: str, is_active: bool) -> User:
    """Another name or role, or no login any more. The last keeper who may log in stays one. Raises Refused."""
    keepers = list(User.objects.select_for_update().filter(role=Role.KEEPER, is_active=True).order_by("pk"))
    person = User.objects.select_for_update().get(pk=person.pk)
    if person in keepers and len(keepers) == 1:
        if role != Role.KEEPER:
            raise Refused("This is the last keeper. Make somebody else keeper first.", field="role")
        if not is_active:
            raise Refused("This is the last keeper, who must be able to log in.", field="is_active")
    before = (person.name, person.role, person.is_active)
    person.name, person.role, person.is_active = name.strip(), role, is_active
    checked(person).save(update_fields=["name", "role", "is_active"])
    if before != (person.name, person.role, person.is_active):
        can = f"works here as {person.role}" if is_active else "may not log in any more"
        signed.record(
            person, f"{person.name} {can}", details={"role": [before[1], role], "may log in": [before[2], is_active]}
        )
    if before[2] != is_active:
        hours_change(signed=signed)  # who no longer works here is not counted on
    return person


@action("staff.password", Role.KEEPER)
def reset_password(*, signed: Signed, person: User, password: str) -> None:
    """A new password for somebody; wherever they are logged in, they are out. Raises Refused."""
    person = User.objects.select_for_update().get(pk=person.pk)
    _good_password(person, password)
    person.set_password(password)
    person.save(update_fields=["password"])
    forget_failed_logins(username=person.username)
    signed.record(person, f"Gave {person.name} a new password")


def _good_password(person: User, password: str) -> None:
    try:
        validate_password(password, person)
    except ValidationError as problem:
        raise Refused({"password": problem.messages}) from None
