"""Every form that the walk lists keeps to the contract of forms, and takes one tap as one however often it comes."""

from __future__ import annotations

import pytest

from shop.models import Role
from tests import form_contract, walker
from tests.conftest import logged_in, make_user
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.shop import walk as _shop  # noqa: F401


@pytest.fixture
def rows(profile):
    return walker.Rows({role: make_user(role) for role in Role.values})


@pytest.mark.parametrize("page", [page for page in walker.PAGES if page.form], ids=str)
def test_a_form_keeps_to_the_contract(page, rows):
    client = logged_in(rows.keeper)
    problems = form_contract.check(client, walker.address(page, rows))
    assert not problems, "\n".join(problems)
