"""Every form that the walk lists keeps to the contract of forms, and takes one tap as one however often it comes."""

from __future__ import annotations

import pytest

from shop.web.post_login_replay import LOOK_AGAIN
from tests import form_contract, walker
from tests.conftest import logged_in
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.shop import walk as _shop  # noqa: F401


@pytest.mark.parametrize("page", [page for page in walker.PAGES if page.form], ids=str)
def test_a_form_keeps_to_the_contract(page, rows):
    client = logged_in(rows.keeper)
    problems = form_contract.check(client, walker.address(page, rows))
    assert not problems, "\n".join(problems)


@pytest.mark.slow
def test_what_is_only_looked_at_after_a_login_stores_nothing(rows):
    client, looked_at = logged_in(rows.keeper), 0
    where = {page: walker.address(page, rows) for page in walker.PAGES}
    before = walker.counts()
    for page, url in where.items():
        for action, entries in form_contract.ready_to_send(client, url):
            client.post(action, {**entries, LOOK_AGAIN: "1"})
            assert walker.counts() == before, f"{page}: {action} took what was only to be looked at"
            looked_at += 1
    assert looked_at > 100
