"""Every page opens to whom it should and to nobody else, is clean HTML, and changes nothing by being looked at."""

from __future__ import annotations

import re

import html5lib
import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import path

from shop import urls
from shop.models import Role
from tests import walker
from tests.conftest import logged_in
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.shop import walk as _shop  # noqa: F401

VISITORS = ["nobody", *Role.values]
STRICT = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "frame-ancestors": "'none'",
    "form-action": "'self'",
}


@pytest.fixture
def users(rows):
    return rows.users


def client_of(visitor: str, users) -> Client:
    client = Client() if visitor == "nobody" else logged_in(users[visitor])
    client.raise_request_exception = False  # a page that breaks is one line among the others
    return client


def test_every_address_is_listed_with_whom_it_opens_to():
    assert not walker.unlisted(), "\n".join(walker.unlisted())


def test_every_address_has_a_name_and_every_page_a_row_that_can_be_made(rows):
    assert [str(pattern.pattern) for pattern, _ in walker.patterns() if not pattern.name] == []
    for page in walker.PAGES:
        assert walker.address(page, rows).startswith("/"), page


@pytest.mark.parametrize(
    "visitor", [one if one == "keeper" else pytest.param(one, marks=pytest.mark.slow) for one in VISITORS]
)
def test_pages_open_to_whom_they_should(visitor, users, rows):
    client = client_of(visitor, users)
    wrong = []
    for page in walker.PAGES:
        where = walker.address(page, rows)
        may = visitor in page.opens_to
        own = page.get_by_nobody or page.get if visitor == "nobody" else page.get
        expected = own if may else 302 if visitor == "nobody" else 403
        answer = client.get(where)
        if answer.status_code != expected:
            wrong.append(f"{page}: GET {where} answers {answer.status_code}, not {expected}, to {visitor}")
        if not may and visitor == "nobody" and not answer.headers.get("Location", "").startswith("/login/?next=/"):
            wrong.append(f"{page}: somebody not logged in is not sent to the login")
        if not may:
            posted = client.post(where, {"submission_key": walker.new_key()}).status_code
            if posted != expected:
                wrong.append(f"{page}: POST {where} answers {posted}, not {expected}, to {visitor}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.slow
def test_looking_changes_nothing(users, rows):
    client = client_of(Role.KEEPER, users)
    where = {page: walker.address(page, rows) for page in walker.PAGES}
    before = walker.counts()
    for page, url in where.items():
        client.get(url)
        assert walker.counts() == before, f"{page}: a GET of {url} wrote something"


MONEY = re.compile(r".{0,60}(€|EUR\b|\bmargin\b|\bwage\b).{0,30}", re.IGNORECASE | re.DOTALL)


def bench_answers(users, rows, *, papers: bool):
    client = client_of(Role.BENCH, users)
    for page in walker.PAGES:
        ours = page.name != "data-sheet-file"  # that is the supplier's own paper
        if ours and Role.BENCH in page.opens_to and page.get == 200:
            answer = client.get(walker.address(page, rows))
            if (answer["Content-Type"] == "application/pdf") == papers:
                yield page, b"".join(answer) if answer.streaming else answer.content


@pytest.mark.slow
def test_the_bench_sees_no_money_on_any_page(users, rows):
    found = {
        str(page): MONEY.search(data.decode("utf-8", "ignore"))
        for page, data in bench_answers(users, rows, papers=False)
    }
    assert len(found) > 20
    assert [f"{page}: {match[0]!r}" for page, match in found.items() if match] == []


@pytest.mark.slow
@pytest.mark.papers
def test_the_bench_sees_no_money_on_any_paper(users, rows, run):
    found = {str(page): MONEY.search(run(pdf, "pdftotext")) for page, pdf in bench_answers(users, rows, papers=True)}
    assert found
    assert [f"{page}: {match[0]!r}" for page, match in found.items() if match] == []


@pytest.mark.slow
def test_every_page_is_clean_html_under_a_strict_policy(users, rows):
    client = client_of(Role.KEEPER, users)
    wrong, titles = [], {}
    for page in walker.PAGES:
        answer = client.get(walker.address(page, rows))
        problems = list(policy_problems(answer))
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            html = answer.content.decode()
            problems += html_problems(html) if page.whole else []
            title = re.search(r"<title>(.*?)</title>", html, re.DOTALL)
            if title and titles.setdefault(title[1], page) != page:
                problems.append(f"has the same title as {titles[title[1]]}: {title[1]}")
        wrong += [f"{page}: {problem}" for problem in problems]
    assert not wrong, "\n".join(wrong)


def policy_problems(answer: HttpResponse):
    """What the content security policy of an answer allows beyond ours."""
    said = dict(
        part.strip().split(" ", 1) for part in answer.headers.get("Content-Security-Policy", "").split(";") if part
    )
    for directive, value in STRICT.items():
        if said.get(directive) != value:
            yield f"content security policy: {directive} is {said.get(directive)}, not {value}"
    if "unsafe" in str(said):
        yield "content security policy allows something unsafe"
    if answer.headers.get("X-Content-Type-Options") != "nosniff" or answer.headers.get("X-Frame-Options") != "DENY":
        yield "may be sniffed or framed"


def html_problems(html: str) -> list[str]:
    """What is wrong with a page: parse errors, anything inline, and what every page must have once."""
    parser = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("etree"), namespaceHTMLElements=False)
    tree = parser.parse(html)
    found = [f"HTML: {code} at {position}" for position, code, _ in parser.errors]
    for element in tree.iter():
        if not isinstance(element.tag, str):
            continue
        if element.tag == "style" or "style" in element.attrib:
            found.append(f"inline style in <{element.tag}>")
        if element.tag == "script" and (not element.get("src") or (element.text or "").strip()):
            found.append("inline script")
        if any(name.startswith("on") for name in element.attrib):
            found.append(f"inline handler in <{element.tag}>: {sorted(element.attrib)}")
    ids = [element.get("id") for element in tree.iter() if isinstance(element.tag, str) and element.get("id")]
    found += [f"id {twice!r} is there twice" for twice in sorted({i for i in ids if ids.count(i) > 1})]
    if len(tree.findall(".//h1")) != 1:
        found.append(f"{len(tree.findall('.//h1'))} h1 instead of one")
    if not tree.get("lang"):
        found.append("no language")
    return found


# --- a view that names nobody -----------------------------------------------------------------------------------------


def forgotten(request):
    return HttpResponse("secret")


urlpatterns = [path("forgotten/", forgotten), *urls.urlpatterns]
handler403 = urls.handler403


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("visitor", VISITORS)
def test_a_view_that_names_nobody_opens_to_nobody(visitor, users):
    answer = client_of(visitor, users).get("/forgotten/")
    assert answer.status_code == 403
    assert b"secret" not in answer.content
    assert "names nobody who may open it" in answer.content.decode()


def test_a_view_can_not_name_a_role_that_is_none():
    from django.core.exceptions import ImproperlyConfigured

    from shop.web.access import open_to

    for roles in ((), ("boss",), ("public", "boss")):
        with pytest.raises(ImproperlyConfigured):
            open_to(*roles)
