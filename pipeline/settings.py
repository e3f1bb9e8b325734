"""Settings. Every value that differs between installations comes from the environment."""

import os
import zoneinfo
from pathlib import Path

from pipeline import env

# Zones from the pinned tzdata, not from what this machine happens to have.
zoneinfo.reset_tzpath([])

# As in pyproject.toml; a backup names it.
VERSION = "0.1.0"

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = BASE_DIR / "data"
DATA_DIR.mkdir(exist_ok=True)

# Where the server listens, and where people reach it.
HOST = env.host("HOST", default="127.0.0.1")
PORT = env.number("PORT", default=8000, least=1, most=65535)
BASE_URL = env.base_url("BASE_URL", default=env.own_url(HOST, PORT))
HTTPS = BASE_URL.startswith("https://")
WEB_WORKERS = env.number("WEB_CONCURRENCY", default=1, least=1, most=64)

DATABASES = {
    "default": env.database("DATABASE_URL", base=BASE_DIR, default=DATA_DIR / "pipeline.sqlite3")
}
ON_SERVER = DATABASES["default"]["ENGINE"].endswith("postgresql")
# The role in which PostgreSQL answers requests and workers; see pipeline/locks/.
APP_ROLE = env.plain_name("DATABASE_APP_ROLE", default="pipeline_app")
# With it a migration lets that role sign in; only the set-up has it, beside the owner's login.
APP_PASSWORD = os.environ.get("DATABASE_APP_PASSWORD", "")

DEBUG = env.debug("DEBUG", base_url=BASE_URL)
SECRET_KEY = env.secret_key("SECRET_KEY", data_dir=DATA_DIR, on_server=ON_SERVER)
ALLOWED_HOSTS = env.words(
    "ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]", env.host_of(BASE_URL)]
)
CSRF_TRUSTED_ORIGINS = [BASE_URL] if HTTPS else []
# So many proxies before the server each add to X-Forwarded-For; none: nobody is believed.
TRUSTED_PROXIES = env.number("TRUSTED_PROXIES", default=0, least=0, most=9)

# Whether the first start fills an empty database with the demo.
DEMO = env.flag("DEMO", default=True)

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env.redis_url("REDIS_URL")

# Where letters are handed in; None: they are kept in the app.
MAIL_SERVER = env.mail_server("EMAIL_URL")
# The address from which they come; empty: letters@ the host of BASE_URL.
EMAIL_FROM = env.address("EMAIL_FROM")

# Who has it may read /metrics; empty: there is no such page.
METRICS_TOKEN = env.token("METRICS_TOKEN")
# json: for machines, and nobody is named in it. plain: for one's own terminal.
LOG_FORMAT = env.choice(
    "LOG_FORMAT",
    among=["json", "plain"],
    default="json" if ON_SERVER or REDIS_URL else "plain",
)
# Celery's processes touch it while they are at work; empty: nothing.
ALIVE_FILE = os.environ.get("ALIVE_FILE", "")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "pipeline.locks",
    "pipeline.teams",
    "pipeline.mail",
    "pipeline.jobs",
    "pipeline.history",
    "pipeline.accounts",
    "pipeline.leads",
    "pipeline.watching",
    "sessions.apps.SessionsConfig",
    "pipeline.enquiries",
    "pipeline.followups",
    "pipeline.results",
    "pipeline.rights",
    "pipeline.exchange",
]

MIDDLEWARE = [
    "pipeline.watching.telling.tell_requests",
    "django.middleware.security.SecurityMiddleware",
    "pipeline.teams.headers.tell_browsers",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # Above all that asks the database.
    "pipeline.locks.asking.lock_requests",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "pipeline.accounts.browsers.keep_awake",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "pipeline.urls"
WSGI_APPLICATION = "pipeline.wsgi.application"

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
            ],
            "builtins": ["pipeline.teams.templatetags.show"],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

AUTH_USER_MODEL = "teams.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "teams"
LOGOUT_REDIRECT_URL = "sign-in"
# Where a team's door leads who must set up a second factor first: a page of a higher floor.
SECOND_FACTOR_URL = "second-factor"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
PASSWORD_RESET_TIMEOUT = 3 * 24 * 60 * 60

LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "pipeline" / "static"]
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
# Our files are for our own pages.
WHITENOISE_ALLOW_ALL_ORIGINS = False

MEDIA_ROOT = DATA_DIR / "files"
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
if HTTPS:
    # A browser takes such a cookie from this very host alone, and over TLS.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SECURE_HSTS_SECONDS = 365 * 24 * 60 * 60 if HTTPS else 0
# To turn plain HTTP away, and to speak for its subdomains, is for the proxy that holds the
# certificate.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W008", "security.W021"]
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_ENGINE = "pipeline.accounts.browsers"
# Seconds until a browser must sign in again: after its last request, a weekend and some hours; and
# in any case. Common practice, no source.
SESSION_IDLE = 3 * 24 * 60 * 60
SESSION_COOKIE_AGE = 30 * 24 * 60 * 60

# What follows from a lead's facts, in the order in which it is brought up to date. One of two
# places where a lower floor reaches a higher one, by name. See pipeline/leads/settle.py.
SETTLE_WITH = [
    "sessions.standing.settle",
    "pipeline.followups.settling.settle",
    "pipeline.followups.notes.settle",
]

# What keeps that somebody agreed to letters on the enquiry page; by name, for the same reason.
AGREED_WITH = "pipeline.followups.consents.agreed_by_form"

# What plans that open work follows a team's working days where an owner changed them; by name too.
FOLLOW_WORKING_DAYS = "pipeline.followups.working_days.follow"

# Of which tables every change is kept, with the fields whose changes say nothing: copies of what
# follows from facts. Of all other rows of a team only what was removed is kept, for thirty days,
# but for those of the second list: work in hand, receipts, and the history itself.
HISTORY: dict[str, list[str]] = {
    "teams.member": [],
    "leads.lead": ["standing", "standing_since", "index_day", "index_format"],
    "leads.contact": [],
    "leads.decision": [],
    "leads.proposal": [],
    "leads.funding": [],
    "leads.logentry": [],
    "discovery.discoverysession": [],
    "discovery.deliverable": [],
    "followups.followup": ["planned_on"],
}
NO_HISTORY = [
    "enquiries.arrival",
    "exchange.sheet",
    "followups.digest",
    "history.change",
    "jobs.job",
    "jobs.round",
    "mail.letter",
    "teams.submission",
]

# What begins the rounds of a team's day, and what does the jobs of each kind; by name, as jobs lie
# on a lower floor than the work. See pipeline/jobs/.
ROUNDS = {
    "new day": "sessions.catching_up.begin_day",
    "morning": "pipeline.followups.mornings.begin",
}
JOBS = {
    "takeaway": "sessions.takeaways.batches.set_item_job",
    "catch up": "sessions.catching_up.catch_up_job",
    "forget": "pipeline.leads.removing.forget_job",
    "digest": "pipeline.followups.digests.digest_job",
    "weekly review": "pipeline.followups.reviews.review_job",
    "note": "pipeline.followups.notes.note_job",
    "session reminder": "sessions.reminding.reminder_job",
    "erase": "pipeline.rights.retention.erase_job",
    "enquiry": "pipeline.enquiries.telling.enquiry_job",
    "working days": "pipeline.followups.working_days.follow_job",
    "forget arrivals": "pipeline.enquiries.arrivals.forget_arrivals_job",
}

# The broker only wakes workers: nothing depends on what it holds, so it is asked for little.
CELERY_BROKER_URL = REDIS_URL
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# None: for ever.
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS = {
    # A call that a worker took with it is handed to another after so many seconds.
    "visibility_timeout": 60 * 60,
    # Who saves a page waits no longer than this for a broker that is away.
    "socket_connect_timeout": 3,
    "socket_keepalive": True,
    "health_check_interval": 30,
}
CELERY_RESULT_BACKEND = None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
# A call that runs goes on while the broker is away: it works on rows.
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = False
# For one that hangs. Calls end by themselves long before; see pipeline/mail/delivery.py.
CELERY_TASK_TIME_LIMIT = 30 * 60
CELERY_TIMEZONE = "UTC"
CELERY_ENABLE_UTC = True

QUIET_LOGGERS = {
    # In one's own terminal only what went wrong.
    "plain": {"pipeline.requests": {"level": "WARNING"}, "pipeline.tasks": {"level": "WARNING"}},
    # What these tell beside our own line for each request names addresses.
    "json": {
        "django.request": {"level": "ERROR"},
        "django.security": {"level": "CRITICAL"},
        "gunicorn.error": {"level": "ERROR"},
    },
}
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
        "json": {"()": "pipeline.watching.logs.JsonLines"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "pipeline": {"level": "INFO"},
        "sessions": {"level": "INFO"},
        "gunicorn.error": {"level": "WARNING"},
        # Through the one handler above.
        "django": {"handlers": []},
        **QUIET_LOGGERS[LOG_FORMAT],
    },
}
