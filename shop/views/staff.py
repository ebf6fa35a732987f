"""The keeper's pages of those who work here."""

from __future__ import annotations

from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from shop.business import staff as acts
from shop.forms.staff import LoginEntriesForm, NewLoginForm, PasswordForm
from shop.models import Role, User
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.post_login_replay import typed_anew
from shop.web.request import ShopRequest, signed


@open_to(Role.KEEPER)
def staff(request: ShopRequest) -> HttpResponse:
    """Page of the logins."""
    people = User.objects.order_by("-is_active", "name", "pk")
    return render(request, "shop/staff.html", {"people": people})


@typed_anew
@act_page(acts.add_login, "shop/staff_new.html", to="staff", says=lambda person: f"{person.name} can log in.")
def staff_new(request: ShopRequest) -> Shown:
    return {"form": NewLoginForm(sent(request), shop=request.shop)}


@typed_anew
@act_page(
    acts.change_login, "shop/staff_edit.html", rows=User, called="person",
    to="staff", says=lambda person: f"{person.name}: saved.",
)  # fmt: skip
def staff_edit(request: ShopRequest, person: User) -> Shown:
    shown = {"name": person.name, "role": person.role, "is_active": person.is_active}
    return {"form": LoginEntriesForm(sent(request), shop=request.shop, initial=shown)}


@typed_anew
@open_to(Role.KEEPER)
def staff_password(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to give a new password to a login."""
    person = get_object_or_404(User, pk=pk)
    form = PasswordForm(sent(request), shop=request.shop)

    def act() -> str:
        acts.reset_password(person=person, **form.entries(), signed=signed(request))
        return reverse("staff")

    says = f"{person.name} has a new password. Tell it in person."
    answer = form_page(request, "shop/staff_password.html", form, act, says=says, person=person)
    if answer.status_code == 302 and person == request.user:
        person.refresh_from_db()
        update_session_auth_hash(request, person)  # the keeper's own page stays open
    return answer
