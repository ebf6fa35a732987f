"""Logging in: paste works, password managers find their boxes, and a wrong password keeps the name."""

from __future__ import annotations

from crispy_forms.helper import FormHelper
from django import forms
from django.urls import reverse

from shop.forms.words import PageForm, WordsField


class LoginForm(PageForm):
    """Form of a login name and its password."""

    username = WordsField(label="Login name", most=60, width="middle", fill="username")
    password = forms.CharField(
        label="Password", strip=False, widget=forms.PasswordInput({"autocomplete": "current-password"})
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput())
    kept = forms.CharField(required=False, widget=forms.HiddenInput())
    password.width = "middle"  # type: ignore[attr-defined]
    by_browser = True
    button = "Log in"
    layout = ("username", "password")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")

    @property
    def helper(self) -> FormHelper:
        """Sent to the login's own address: the page may be the answer to a form that was sent to another."""
        helper = super().helper
        helper.form_action = reverse("login")
        return helper

    def clean_username(self) -> str:
        """Login names are kept in small letters, and a phone likes to begin with a large one."""
        return str(self.cleaned_data["username"]).strip().lower()
