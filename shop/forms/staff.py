"""Logins of those who work here."""

from __future__ import annotations

from typing import Any

from django import forms

from shop.forms.words import PageForm, PickField, WordsField
from shop.models import Role


def password_field(label: str) -> forms.CharField:
    """A box for a password that is new, not the phone's own."""
    field = forms.CharField(
        label=label,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}, render_value=True),
        help_text="At least 10 characters. A few words in a row are easy to remember and hard to guess.",
    )
    field.width = "middle"  # type: ignore[attr-defined]
    return field


class NewLoginForm(PageForm):
    name = WordsField(label="Name", most=120, width="middle")
    username = WordsField(label="Login name", most=60, width="middle")
    role = PickField(label="Works here as", choices=Role.choices, radios=True, initial=Role.COUNTER)
    password = password_field("Password")
    button = "Make the login"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")


class LoginEntriesForm(PageForm):
    name = WordsField(label="Name", most=120, width="middle")
    role = PickField(label="Works here as", choices=Role.choices, radios=True)
    is_active = forms.BooleanField(label="May log in", required=False)


class PasswordForm(PageForm):
    password = password_field("New password")
    button = "Give the new password"
