"""Getting in and staying out: logins, guessers, the keys they are signed with, and what the settings promise."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from shop.models import User
from tests.conftest import PASSWORD, logged_in

HOUSE = Path(__file__).resolve().parents[3]
WRONG = "not the password"


def log_in(client, username, password=PASSWORD, address="127.0.0.1", **more):
    return client.post("/login/", {"username": username, "password": password, **more}, REMOTE_ADDR=address)


def test_the_page_asked_for_comes_after_the_login(client, keeper):
    asked = client.get("/people/?q=niamh")
    assert asked.url == "/login/?next=/people/%3Fq%3Dniamh"
    assert log_in(client, "keeper", next="/people/?q=niamh").url == "/people/?q=niamh"


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_a_login_never_leads_off_the_shop(client, keeper, elsewhere):
    assert log_in(client, "keeper", next=elsewhere).url == "/"


def test_a_phones_large_first_letter_and_blanks_do_not_keep_anybody_out(client, keeper):
    assert log_in(client, " Keeper ").status_code == 302


def test_a_wrong_password_keeps_the_name_and_says_so(client, keeper):
    answer = log_in(client, "keeper", WRONG)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "<title>Error: Log in" in html
    assert 'value="keeper"' in html
    assert WRONG not in html


def test_password_managers_find_their_boxes(client, profile):
    html = client.get("/login/").content.decode()
    assert 'autocomplete="username"' in html
    assert 'autocomplete="current-password"' in html
    assert "onpaste" not in html


def test_after_five_wrong_passwords_that_name_waits_at_that_address(client, keeper, counter):
    for _ in range(4):
        assert log_in(client, "keeper", WRONG).status_code == 422
    fifth = log_in(client, "keeper", WRONG)
    assert fifth.status_code == 429
    assert "Wait a quarter of an hour" in fifth.content.decode()
    assert log_in(client, "keeper").status_code == 429, "even the right password waits"
    assert log_in(client, "counter").status_code == 302, "another name does not"
    assert log_in(client, "keeper", address="192.168.1.30").status_code == 302, "nor the same name elsewhere"


def test_a_forged_forwarding_header_does_not_make_another_address(client, keeper):
    for number in range(5):
        log_in_from = {"HTTP_X_FORWARDED_FOR": f"10.0.0.{number}"}
        answer = client.post("/login/", {"username": "keeper", "password": WRONG}, **log_in_from)
    assert answer.status_code == 429


def test_a_new_password_from_the_keeper_ends_the_wait(client, keeper, counter, keeper_client, form_key):
    for _ in range(5):
        log_in(client, "counter", WRONG)
    assert log_in(client, "counter").status_code == 429
    fresh = "quite another password"
    keeper_client.post(f"/shop/staff/{counter.pk}/password/", {"password": fresh, "submission_key": form_key()})
    assert log_in(client, "counter", fresh).status_code == 302


def test_who_may_not_log_in_any_more_is_out_at_once(keeper, counter):
    client = logged_in(counter)
    assert client.get("/people/").status_code == 200
    User.objects.filter(pk=counter.pk).update(is_active=False)
    assert client.get("/people/").status_code == 302


def test_logging_out_takes_a_button_not_a_link(counter_client):
    assert counter_client.get("/logout/").status_code == 405
    assert counter_client.post("/logout/").url == "/login/"
    assert counter_client.get("/people/").status_code == 302


def test_passwords_are_kept_with_argon2(keeper):
    assert keeper.password.startswith("argon2$argon2id$")


def in_a_fresh_process(tmp_path, *command: str, **env: str) -> subprocess.CompletedProcess[str]:
    ours = ("ORIGIN", "HSTS", "DRYRACK_DEMO", "DATABASE_URL", "DJANGO_ALLOW_ASYNC_UNSAFE")
    own = {k: v for k, v in os.environ.items() if k not in ours}
    own |= {"DATA_DIR": str(tmp_path / "data"), "DJANGO_SETTINGS_MODULE": "shop.settings", **env}
    return subprocess.run([sys.executable, *command], cwd=HOUSE, env=own, capture_output=True, text=True, check=False)


SAY = (
    "import json; from django.conf import settings as s; print(json.dumps([s.SESSION_COOKIE_SECURE,"
    " s.CSRF_COOKIE_SECURE, s.SECURE_SSL_REDIRECT, s.SECURE_HSTS_SECONDS, s.ALLOWED_HOSTS, s.CSRF_TRUSTED_ORIGINS,"
    " s.DEBUG]))"
)


@pytest.mark.slow
def test_an_https_origin_passes_djangos_deployment_check(tmp_path):
    run = in_a_fresh_process(
        tmp_path, "manage.py", "check", "--deploy", "--fail-level", "WARNING", ORIGIN="https://rack.example"
    )
    assert run.returncode == 0, run.stderr
    assert "no issues" in run.stdout


def test_an_https_origin_sends_cookies_over_https_only(tmp_path):
    run = in_a_fresh_process(tmp_path, "-c", SAY, ORIGIN="https://rack.example")
    hosts, origins = ["rack.example"], ["https://rack.example"]
    assert json.loads(run.stdout) == [True, True, True, 3600, hosts, origins, False]


HSTS = (
    "import json; from django.conf import settings as s; print(json.dumps([s.SECURE_HSTS_SECONDS,"
    " s.SECURE_HSTS_INCLUDE_SUBDOMAINS, s.SECURE_HSTS_PRELOAD]))"
)


@pytest.mark.parametrize(
    ("origin", "asked", "says"),
    [
        ("https://rack.example", None, [3600, False, False]),  # this host alone, and for an hour
        ("https://rack.example", "max-age=86400", [86_400, False, False]),
        ("https://rack.example", "max-age=31536000; includeSubDomains; preload", [31_536_000, True, True]),
        ("https://rack.example", "max-age=0", [0, False, False]),
        ("http://192.168.1.20:8000", "max-age=86400; includeSubDomains", [0, False, False]),
    ],
)
def test_browsers_insist_on_https_for_this_host_alone_and_not_for_long_unless_asked(tmp_path, origin, asked, says):
    more = {} if asked is None else {"HSTS": asked}
    assert json.loads(in_a_fresh_process(tmp_path, "-c", HSTS, ORIGIN=origin, **more).stdout) == says


@pytest.mark.parametrize("wrong", ["a year", "31536000", "max-age=", "max-age=-1", "max-age=60; everything", ""])
def test_an_hsts_that_is_none_is_a_sentence(tmp_path, wrong):
    run = in_a_fresh_process(tmp_path, "-c", HSTS, ORIGIN="https://rack.example", HSTS=wrong)
    assert "HSTS must be like max-age=3600" in run.stderr


def test_a_lan_address_works_without_https_and_answers_to_that_name_only(tmp_path):
    run = in_a_fresh_process(tmp_path, "-c", SAY, ORIGIN="http://192.168.1.20:8000")
    hosts, origins = ["192.168.1.20"], ["http://192.168.1.20:8000"]
    assert json.loads(run.stdout) == [False, False, False, 0, hosts, origins, False]


def test_an_origin_that_is_none_is_a_sentence(tmp_path):
    run = in_a_fresh_process(tmp_path, "-c", SAY, ORIGIN="rack.example")
    assert "ORIGIN must be like https://rack.example" in run.stderr


def test_the_signing_key_is_its_owners_only_and_stays(tmp_path):
    key = tmp_path / "data" / "secret-key"
    say = "from django.conf import settings as s; print(s.SECRET_KEY)"
    first, second = (in_a_fresh_process(tmp_path, "-c", say).stdout.strip() for _ in range(2))
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert first == second == key.read_text()
    assert len(first) >= 64


def test_health_needs_no_login_and_asks_nobodys_data(client, profile, django_assert_max_num_queries):
    with django_assert_max_num_queries(4) as asked:
        answer = client.get("/health/")
    assert answer.json()["well"] is True
    assert not [q["sql"] for q in asked.captured_queries if "shop_" in q["sql"] or "quotes_" in q["sql"]]


def test_health_names_a_migration_that_is_waiting(client, profile):
    last = MigrationExecutor(connection).loader.graph.leaf_nodes("shop")[0][1]
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'shop'")
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert f"shop.{last}" in answer.json()["pending_migrations"]


def test_health_says_when_the_database_does_not_answer(client, profile, monkeypatch):
    from django.db import OperationalError

    from shop.views import health

    def gone(*_):
        raise OperationalError("gone")

    monkeypatch.setattr(health, "MigrationExecutor", gone)
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()["database"]) == (503, "does not answer")


def test_the_first_pages_are_not_kept_by_the_browser(client, profile):
    assert "no-store" in client.get("/login/")["Cache-Control"]
