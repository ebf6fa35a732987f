"""Every address of the service: to whom it opens, a row to open it with, and what it answers.

Each room lists its pages in `tests/<room>/walk.py` and gives sample rows there. An address that no room lists makes
`tests/test_walk.py` fail with a sentence that says what to add, so that no page goes unasked whom it is open to.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import time_machine
from django.db import models
from django.urls import URLPattern, get_resolver, reverse

from shop.models import Role, User

EVERYBODY = ("nobody", *Role.values)  # nobody: not logged in
STAFF = tuple(Role.values)
MONEY = (Role.KEEPER, Role.COUNTER)
KEEPER = (Role.KEEPER,)


@dataclass(frozen=True)
class Page:
    """One address. `get`: the status a GET gives to whoever may open it; `form`: the form contract is tried on it."""

    name: str
    opens_to: tuple[str, ...]
    row: str = ""
    get: int = 200
    form: bool = False
    get_by_nobody: int = 0  # where it is another one; only for pages open to everybody
    whole: bool = True  # False: a piece that is put into a page

    def __str__(self) -> str:
        return f"{self.name}({self.row})" if self.row else self.name


class Rows(dict[str, Any]):
    """Sample rows, each made when first asked for by the function that `sample` marked with its name."""

    def __init__(self, users: dict[str, User]) -> None:
        super().__init__()
        self.users = users

    @property
    def keeper(self) -> User:
        return self.users[Role.KEEPER]

    def __missing__(self, name: str) -> Any:
        self[name] = SAMPLES[name](self)
        return self[name]


def all_rows() -> Rows:
    """Every sample row of every page, in a shop with one person of each role."""
    from tests.conftest import NOW, make_user
    from tests.sample_shop import make_profile

    with time_machine.travel(NOW, tick=False):
        make_profile()
        rows = Rows({role: make_user(role) for role in Role.values})
        for page in PAGES:
            address(page, rows)
    return rows


SAMPLES: dict[str, Callable[[Rows], Any]] = {}
PAGES: list[Page] = []


def sample(make: Callable[[Rows], Any]) -> Callable[[Rows], Any]:
    """Mark a function that makes the sample row of its own name: a row, or the address's parts as a dict."""
    SAMPLES[make.__name__.removeprefix("a_").removeprefix("an_")] = make
    return make


def pages(*listed: Page) -> None:
    PAGES.extend(listed)


def patterns() -> Iterator[tuple[URLPattern, tuple[str, ...]]]:
    """Every pattern of the service with the names of its parts."""

    def down(found: list[Any]) -> Iterator[URLPattern]:
        for one in found:
            if isinstance(one, URLPattern):
                yield one
            else:
                yield from down(one.url_patterns)

    for pattern in down(get_resolver().url_patterns):
        regex = getattr(pattern.pattern, "regex", None)
        named = tuple(pattern.pattern.converters) or tuple(regex.groupindex if regex else ())
        yield pattern, named


def parts_of(page: Page) -> set[tuple[str, ...]]:
    """The address's parts by every pattern of its name, those that fit a page with or without a row."""
    return {named for pattern, named in patterns() if pattern.name == page.name and bool(named) == bool(page.row)}


def address(page: Page, rows: Rows) -> str:
    """Where the page is, with its sample row made if need be."""
    if not page.row:
        return reverse(page.name)
    row = rows[page.row]
    (named,) = parts_of(page)
    return reverse(page.name, kwargs=row if isinstance(row, dict) else {named[0]: row.pk})


def unlisted() -> list[str]:
    """A sentence for each pattern that no page stands for, and for each page that no pattern stands behind."""
    listed = {(page.name, bool(page.row)) for page in PAGES}
    there = {(pattern.name, bool(named)) for pattern, named in patterns()}
    missing = [
        f"The address {name!r} has no entry: add Page({name!r}, …) to pages() in tests/<its room>/walk.py, with whom it "
        f"opens to{' and a sample row' if with_row else ''}."
        for name, with_row in sorted(there - listed, key=str)
    ]
    gone = [f"There is no address {name!r} any more: take its Page out." for name, _ in sorted(listed - there)]
    return missing + gone


def counts() -> dict[str, int]:
    """How many rows each table holds, sessions apart: what looking must not change."""
    from django.apps import apps

    own = [
        m for m in apps.get_models(include_auto_created=True) if m._meta.app_label in ("shop", "inventory", "quotes")
    ]
    return {model._meta.label: _number(model) for model in own}


def _number(model: type[models.Model]) -> int:
    return model._base_manager.count()


def new_key() -> str:
    return str(uuid.uuid4())
