"""Settings: everything from outside comes from the environment, with a safe answer when it says nothing.

DATABASE_URL   where the rows live; default a SQLite file in the data folder
ORIGIN         how people reach the service, like https://rack.example or http://192.168.1.20:8000;
               its scheme decides cookies and headers, its host is the only one answered
HSTS           only with an https ORIGIN: for how long browsers then insist on https for this host, written as the
               header of RFC 6797; default max-age=3600, an hour. Once https has held for some weeks: max-age=31536000.
               Add "; includeSubDomains" only where every other host below this one speaks https too, and "; preload"
               only to be listed in browsers for good: neither can be taken back in a hurry. max-age=0 takes it back
DATA_DIR       the folder of the user's data; default var/ beside this project
DRYRACK_DEMO   1 for the demo's own SQLite file and media, whatever DATABASE_URL says (set by `manage.py … --demo`)
"""

import os
import secrets
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
DEMO = os.environ.get("DRYRACK_DEMO") == "1"
DATA_DIR = Path(os.environ.get("DATA_DIR", BASE_DIR / "var")) / ("demo" if DEMO else "")
DATA_DIR.mkdir(parents=True, exist_ok=True)
VERSION = "0.1.0"


def _secret_key() -> str:
    """The signing key: made at first run, readable by its owner only."""
    path = DATA_DIR / "secret-key"
    try:
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        key = path.read_text().strip()
        if len(key) < 50:
            raise ImproperlyConfigured(f"{path} is too short to sign with; delete it and a new key is made.") from None
        return key
    with os.fdopen(handle, "w") as file:
        file.write(secrets.token_urlsafe(64))
    return path.read_text().strip()


SECRET_KEY = _secret_key()
DEBUG = False

_origin = urlsplit(os.environ.get("ORIGIN", "http://127.0.0.1:8000"))
if _origin.scheme not in ("http", "https") or not _origin.hostname:
    raise ImproperlyConfigured("ORIGIN must be like https://rack.example or http://192.168.1.20:8000.")
ORIGIN = f"{_origin.scheme}://{_origin.netloc}"
HTTPS = _origin.scheme == "https"


def _hsts(header: str) -> tuple[int, bool, bool]:
    """Seconds, whether hosts below this one are meant too, and whether it may be listed in browsers (RFC 6797, 6.1)."""
    age, *more = [part.strip().lower() for part in header.split(";") if part.strip()] or [""]
    seconds = age.removeprefix("max-age=")
    if not (age.startswith("max-age=") and seconds.isascii() and seconds.isdecimal()) or set(more) - {
        "includesubdomains",
        "preload",
    }:
        raise ImproperlyConfigured("HSTS must be like max-age=3600, or max-age=31536000; includeSubDomains; preload.")
    return int(seconds), "includesubdomains" in more, "preload" in more


ALLOWED_HOSTS = [_origin.hostname] + (
    ["localhost", "127.0.0.1"] if _origin.hostname in ("127.0.0.1", "localhost") else []
)
CSRF_TRUSTED_ORIGINS = [ORIGIN]

INSTALLED_APPS = [
    "shop",
    "inventory",
    "quotes",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    "crispy_forms",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "shop.web.middleware.RequestId",
    "shop.web.middleware.CleanInput",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shop.web.middleware.PackedPages",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "csp.middleware.CSPMiddleware",
    "shop.web.middleware.Writing",
    "shop.web.middleware.ShopSetUp",
    "shop.web.middleware.BodyLimit",
    "shop.web.access.ClosedByDefault",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shop.web.context.house",
            ],
        },
    },
]

DATABASES = {
    "default": dj_database_url.parse(
        (not DEMO and os.environ.get("DATABASE_URL")) or f"sqlite:///{DATA_DIR / 'dryrack.sqlite3'}",
        conn_max_age=0,
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 30,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
    DATABASES["default"]["TEST"] = {"NAME": os.environ.get("TEST_DB", str(DATA_DIR / f"test-{os.getpid()}.sqlite3"))}
else:
    DATABASES["default"]["TEST"] = {"NAME": os.environ.get("TEST_DB", f"test_dryrack_{os.getpid()}")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "shop.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "name")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "rack"
LOGOUT_REDIRECT_URL = "login"
CSRF_FAILURE_VIEW = "shop.views.errors.csrf_failure"

# Five wrong passwords for one name from one address, then a quarter of an hour's wait.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False  # the page promises a quarter of an hour, not more
AXES_LOCKOUT_TEMPLATE = "shop/locked_out.html"
AXES_HTTP_RESPONSE_CODE = 429
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False
AXES_IPWARE_PROXY_COUNT = 0

SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]  # asked from the machine itself, behind the proxy
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_HSTS_SECONDS, SECURE_HSTS_INCLUDE_SUBDOMAINS, SECURE_HSTS_PRELOAD = (
    _hsts(os.environ.get("HSTS", "max-age=3600")) if HTTPS else (0, False, False)
)
# The same host may serve other things than the shop's: what reaches beyond it, and for long, is asked for by HSTS.
SILENCED_SYSTEM_CHECKS = ["security.W004", "security.W005", "security.W021"] if HTTPS else []
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

CRISPY_TEMPLATE_PACK = "shed"
CRISPY_ALLOWED_TEMPLATE_PACKS = ("shed",)
CRISPY_FAIL_SILENTLY = False
FORM_RENDERER = "django.forms.renderers.DjangoTemplates"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
WHITENOISE_AUTOREFRESH = False
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
MEDIA_ROOT = DATA_DIR / "media"
MEDIA_URL = "/media/"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000
PHOTO_MAX_BYTES = 12_000_000
BODY_MAX_BYTES = 60_000_000  # a handful of photos chosen at once; more gets our page for 413

LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # the shop's own zone is a row of its profile and set per request

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request_id": {"()": "shop.web.logs.RequestIdFilter"}},
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s [%(request_id)s] %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["request_id"]}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "dryrack": {"level": "INFO"},
        "axes": {"level": "ERROR"},
        "django.request": {"level": "ERROR"},  # a form that was refused is no event
    },
}

READY_DAY_DRAWS = 200  # futures of the bench that a ready day is worked out from
