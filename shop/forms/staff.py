"""Logins of those who work here."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from shop.forms.words import PageForm, PickField, WordsField
from shop.models import Role, User

RULE = (
    "At least 10 characters of any kind, spaces too; not like your name or login name, and none of the 20 000 that most "
    "people use. A few words in a row are easy to remember and hard to guess."
)


def password_field(label: str, *, hint: str = RULE, required: bool = True) -> forms.CharField:
    """A box for a password that is new, not the phone's own; with the script it can be looked at."""
    widget = forms.PasswordInput({"autocomplete": "new-password"}, render_value=True)
    field = forms.CharField(label=label, strip=False, required=required, widget=widget, help_text=hint)
    field.width, field.can_show = "middle", True  # type: ignore[attr-defined]
    return field


def check_password(form: forms.Form, person: User) -> None:
    """Say beside the password what is wrong with it, together with all else that is wrong in the form."""
    password = form.cleaned_data.get("password")
    if not password:
        return
    try:
        validate_password(password, person)
    except forms.ValidationError as problem:
        form.add_error("password", problem)


class NewLoginForm(PageForm):
    """Form of a new login."""

    name = WordsField(label="Name", most=120, width="middle")
    username = WordsField(label="Login name", most=60, width="middle", hint="It cannot be changed later.")
    role = PickField(label="Works here as", choices=Role.choices, radios=True, initial=Role.COUNTER)
    password = password_field("Password")
    button = "Make the login"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")

    def clean(self) -> dict[str, Any]:
        """Entries, refused where the password is weak."""
        entries = super().clean() or self.cleaned_data
        check_password(self, User(username=entries.get("username", ""), name=entries.get("name", "")))
        return entries


class LoginEntriesForm(PageForm):
    """Form of a login's name, role and whether it may log in."""

    name = WordsField(label="Name", most=120, width="middle")
    role = PickField(label="Works here as", choices=Role.choices, radios=True)
    is_active = forms.BooleanField(label="May log in", required=False)


class PasswordForm(PageForm):
    """Form of a new password for somebody's login."""

    password = password_field("New password")
    button = "Give the new password"
