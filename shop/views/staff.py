"""The keeper's pages of those who work here."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from shop.business import staff as verbs
from shop.forms.staff import LoginEntriesForm, NewLoginForm, PasswordForm
from shop.models import Role, User
from shop.web.access import open_to
from shop.web.carried import typed_anew
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled, sent


@open_to(Role.KEEPER)
def staff(request: ShopRequest) -> HttpResponse:
    """Page of the logins."""
    people = User.objects.order_by("-is_active", "name", "pk")
    return render(request, "shop/staff.html", {"people": people})


@typed_anew
@open_to(Role.KEEPER)
def staff_new(request: ShopRequest) -> HttpResponse:
    """Page to make a login."""
    form = NewLoginForm(sent(request), shop=request.shop)

    def act() -> str:
        verbs.add_login(signed=signed(request), **form.cleaned_data)
        return reverse("staff")

    answer = filled(request, form, act)
    if answer:
        messages.success(request, f"{form.cleaned_data['name']} can log in.")
        return answer
    return render(request, "shop/staff_new.html", {"form": form}, status=422 if form.is_bound else 200)


@typed_anew
@open_to(Role.KEEPER)
def staff_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to change a login."""
    person = get_object_or_404(User, pk=pk)
    shown = {"name": person.name, "role": person.role, "is_active": person.is_active}
    form = LoginEntriesForm(sent(request), shop=request.shop, initial=shown)

    def act() -> str:
        verbs.change_login(signed=signed(request), person=person, **form.cleaned_data)
        return reverse("staff")

    answer = filled(request, form, act)
    if answer:
        messages.success(request, f"{form.cleaned_data['name']}: saved.")
        return answer
    context = {"form": form, "person": person}
    return render(request, "shop/staff_edit.html", context, status=422 if form.is_bound else 200)


@typed_anew
@open_to(Role.KEEPER)
def staff_password(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to give a new password to a login."""
    person = get_object_or_404(User, pk=pk)
    form = PasswordForm(sent(request), shop=request.shop)

    def act() -> str:
        verbs.reset_password(signed=signed(request), person=person, password=form.cleaned_data["password"])
        return reverse("staff")

    answer = filled(request, form, act)
    if answer:
        if person == request.user:
            person.refresh_from_db()
            update_session_auth_hash(request, person)  # the keeper's own page stays open
        messages.success(request, f"{person.name} has a new password. Tell it in person.")
        return answer
    context = {"form": form, "person": person}
    return render(request, "shop/staff_password.html", context, status=422 if form.is_bound else 200)
