"""Settings. Each comes from an environment variable with a safe default; docs/operations.md lists them."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import structlog
from celery.schedules import crontab
from csp.constants import NONE, SELF

from accounts.masking import mask_line
from config.env import env, secret, text

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = secret(
    "SECRET_KEY",
    "Make one with: python -c 'import secrets; print(secrets.token_urlsafe(64))'",
    # Where `make serve` puts the one it makes, so that manage.py beside it needs no settings either.
    kept=VAR_DIR / "secret-key",
)
# The keys before it, when it has been changed: what was signed or encrypted with them is still read.
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
# Plain HTTP is only for one machine talking to itself; everywhere else cookies travel by TLS alone.
PLAIN_HTTP = env.bool("PLAIN_HTTP", default=False)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
SITE_URL = env.str("SITE_URL", default="http://localhost:8000").rstrip("/")
COMPANY_NAME = env.str("COMPANY_NAME", default="Stripecoat")

# SQLite makes a covering index without its further columns: slower there, right all the same.
SILENCED_SYSTEM_CHECKS = ["models.W040"]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_structlog",
    "rest_framework",
    "django_filters",
    "knox",
    "drf_spectacular",
    "accounts",
    "inspection.projects",
    "inspection.works",
    "inspection.instruments",
    "inspection.fieldwork",
    "inspection.standing",
    "inspection.nonconformance",
    "inspection.plan",
    "inspection.holdpoints",
    "inspection.notices",
    "inspection.photos",
    "inspection.drawings",
    "inspection.diary",
    "inspection.fieldapp",
    "inspection.trace",
    "inspection.recall",
    "reports",
]

# Who is told, and in this order, when what field records rest on has changed: standings first, since all else reads
# them; points before the numbers of a project's nonconformances, in which order a recall holds them too.
EVIDENCE_LISTENERS = (
    "inspection.standing.receivers.keep_standings_true",
    "inspection.nonconformance.receivers.judge_remainders",
    "inspection.holdpoints.receivers.mark_points",
    "inspection.nonconformance.receivers.settle_nonconformances",
    "inspection.photos.taking_over.take_over",
)

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "inspection.foundation.readable.Readable",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_structlog.middlewares.RequestMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "inspection.fieldapp.middleware.LockFieldApp",
    "accounts.middleware.SignInRequired",
    "inspection.fieldapp.once.OnceOnly",
    "accounts.middleware.RefusalsAsPages",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

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
                "accounts.context.person",
            ],
            "builtins": ["accounts.templatetags.house"],
        },
    },
]


def _database() -> dict[str, Any]:
    default = f"sqlite:///{VAR_DIR / 'stripecoat.sqlite3'}"
    config: dict[str, Any] = env.db_url_config(text("DATABASE_URL", default))
    if config["ENGINE"].endswith("sqlite3"):
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            # With recursive triggers, INSERT OR REPLACE may not delete a row of record either.
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON;",
        }
    else:
        config["OPTIONS"] = {
            # As for solid-state disks: an index is worth its while. Compiling a statement takes longer than it saves.
            "options": "-c random_page_cost=1.1 -c jit=off",
            **config.get("OPTIONS", {}),
            # Whoever asks while the database is away is told so within seconds, not after half a minute.
            "connect_timeout": 3,
            "pool": {"min_size": 1, "max_size": env.int("DATABASE_POOL", default=8), "timeout": 3},
        }
        # A connection that died in the pool is found before it is lent out.
        config["CONN_HEALTH_CHECKS"] = True
    return config


DATABASES = {"default": _database()}
# The role that the processes of the site use, where another one owns the tables: a release grants it its rights.
SITE_DATABASE_URL = text("SITE_DATABASE_URL")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = text("REDIS_URL")
# A Redis that takes connections and says nothing holds nobody up: what asks it goes on without, as while it is away.
REDIS_PATIENCE = dict.fromkeys(
    ("socket_connect_timeout", "socket_timeout"), env.float("REDIS_TIMEOUT_SECONDS", default=3.0)
)
CACHES: dict[str, Any] = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": REDIS_URL,
        "OPTIONS": {"serializer": "inspection.foundation.cache.JsonSerializer", **REDIS_PATIENCE},
    }
    if REDIS_URL
    else {"BACKEND": "inspection.foundation.cache.JsonFiles", "LOCATION": VAR_DIR / "cache"}
}

# --- people and sign-in ---------------------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {"NAME": "accounts.passwords.NoWordsOfTheHouse"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
ACCOUNT_ADAPTER = "accounts.adapter.ClosedSignUp"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
# The invitation link, sent to the address, has already proved it.
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_LOGIN_ON_PASSWORD_RESET = False
ACCOUNT_FORMS = {
    "login": "accounts.forms.SignIn",
    "reset_password": "accounts.forms.AskReset",
    "reset_password_from_key": "accounts.forms.ChooseReset",
    "reauthenticate": "accounts.forms.StillYou",
}
# How long signing in, or showing again that it is still they, is good for deeds that reach far.
ACCOUNT_REAUTHENTICATION_TIMEOUT = 15 * 60
MFA_ADAPTER = "accounts.factors.Factors"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_FORMS = {
    "authenticate": "accounts.forms.CodeAtSignIn",
    "reauthenticate": "accounts.forms.CodeAgain",
    "activate_totp": "accounts.forms.NewApp",
    "authenticate_webauthn": "accounts.forms.PasskeyAtSignIn",
    "reauthenticate_webauthn": "accounts.forms.PasskeyAgain",
    "add_webauthn": "accounts.forms.NewPasskey",
    "edit_webauthn": "accounts.forms.RenamePasskey",
}
# Clocks of phones are off by some seconds: the code before and after counts too.
MFA_TOTP_TOLERANCE = 1
# The invitation link has proved the address, as for signing in.
MFA_ALLOW_UNVERIFIED_EMAIL = True
# Browsers make passkeys without TLS for localhost alone.
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = PLAIN_HTTP
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
# A stranger's address gets no mail from here, and the page says the same either way.
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
# Tries are counted in the database, where none is forgotten (accounts/guessing.py); the library counts in the cache.
ACCOUNT_RATE_LIMITS = False

# --- cookies and headers --------------------------------------------------------------------------------------------
if not PLAIN_HTTP:
    # A cookie of this name is taken from this host alone, by TLS alone (RFC 6265bis).
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not PLAIN_HTTP
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 14 * 24 * 3600
SECURE_SSL_REDIRECT = not PLAIN_HTTP
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SECURE_HSTS_SECONDS = 0 if PLAIN_HTTP else 365 * 24 * 3600
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = not PLAIN_HTTP
# Behind one proxy, which sets both headers; without it, nobody is believed about who they are.
BEHIND_PROXY = env.bool("BEHIND_PROXY", default=False)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_PROXY else 0
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "worker-src": [SELF],
        "manifest-src": [SELF],
    }
}

# --- words, times, files --------------------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
FILES_DIR = VAR_DIR / "files"
STORAGES = {
    # Files of record lie outside the static tree, named by their digest, and are served only through sight.
    "default": {"BACKEND": "inspection.foundation.storage.WholeFiles", "OPTIONS": {"location": FILES_DIR}},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
UPLOAD_MAX_BYTES = 10 * 1024 * 1024
# What the reading of one CSV or XLSX file may take, in a process of its own; the largest honest one needs a third.
TABLE_READ_SECONDS = env.int("TABLE_READ_SECONDS", default=20)
TABLE_READ_MEMORY_MB = env.int("TABLE_READ_MEMORY_MB", default=384)
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000

# --- mail -----------------------------------------------------------------------------------------------------------
if EMAIL_URL := text("EMAIL_URL"):
    vars().update(env.email_url_config(EMAIL_URL))
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", default="Stripecoat <records@localhost>")

# --- tasks ----------------------------------------------------------------------------------------------------------
# A living worker renews its hold on a job well before this; what a killed one held is free within it.
JOB_LEASE_SECONDS = 20
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_TIME_LIMIT = 540
CELERY_TASK_SOFT_TIME_LIMIT = 500
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat-schedule")
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any]
if REDIS_URL:
    CELERY_BROKER_URL = REDIS_URL
    # An unfinished task's message comes back after this; longer than any may run, though a second would find it taken.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": CELERY_TASK_TIME_LIMIT + 60,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
        # Above the second for which a worker waits for the next message.
        **REDIS_PATIENCE,
        # Of a message that cannot be sent: the sweep sends it again, and nobody waits here.
        "max_retries": 1,
        "interval_start": 0,
    }
else:
    _broker = VAR_DIR / "broker"
    for _name in ("queue", "done", "control"):
        (_broker / _name).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_URL = "filesystem://localhost"
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_broker / "queue"),
        "data_folder_out": str(_broker / "queue"),
        "processed_folder": str(_broker / "done"),
        "store_processed": False,
        "control_folder": str(_broker / "control"),
    }
SWEEP_SECONDS = env.float("SWEEP_SECONDS", default=30.0)
# A mail server that does not answer holds up its own worker and no report.
MAIL_QUEUE = "mail"
CELERY_TASK_ROUTES = {"reports.tasks.send_letters": {"queue": MAIL_QUEUE}}
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "reports.tasks.sweep", "schedule": SWEEP_SECONDS},
    # What was not taken up before the next is asked for is worth nothing any more, and must not pile up.
    "letters": {
        "task": "reports.tasks.send_letters",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "questions": {
        "task": "reports.tasks.look_through_readings",
        "schedule": crontab(minute="*/5"),
        "options": {"expires": 300},
    },
    "reminders": {"task": "reports.tasks.remind", "schedule": crontab(minute=10)},
    "clear-leftovers": {"task": "reports.tasks.clear_leftovers", "schedule": crontab(hour=3, minute=40)},
    "daily-reports": {"task": "reports.tasks.queue_daily_reports", "schedule": crontab(minute=25)},
}

# --- API ------------------------------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "accounts.api.ByToken",
        "accounts.api.BySession",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["accounts.api.OpenToThem"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["accounts.api.Json"],
    "DEFAULT_METADATA_CLASS": "accounts.api.Methods",
    "DEFAULT_PAGINATION_CLASS": "accounts.api.NewestFirst",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_THROTTLE_CLASSES": ["accounts.throttles.ByPersonAndToken"],
    "EXCEPTION_HANDLER": "inspection.foundation.problems.as_problem",
    "UNAUTHENTICATED_USER": None,
    "COERCE_DECIMAL_TO_STRING": False,
}
# In so many seconds so many requests of one token; of one person, with all their tokens, twice as many. A crew's day
# that was kept offline, some hundreds of records, is sent at once and goes through.
API_LIMITS = {
    "read": {300: env.int("API_READS_IN_5_MINUTES", default=3_000)},
    "write": {
        300: env.int("API_WRITES_IN_5_MINUTES", default=1_000),
        86_400: env.int("API_WRITES_A_DAY", default=10_000),
    },
    "calculation": {300: env.int("API_CALCULATIONS_IN_5_MINUTES", default=300)},
}
# Bytes of a request's body. A thickness record may hold 100,000 readings; a calculation has some thousand figures.
API_MAX_BYTES = 256 * 1024
CALCULATION_MAX_BYTES = env.int("CALCULATION_MAX_KB", default=128) * 1024
KNOX_TOKEN_MODEL = "accounts.ApiToken"  # noqa: S105 - the name of a model
REST_KNOX = {
    "TOKEN_TTL": timedelta(days=90),
    "TOKEN_PREFIX": "sc_",
    "AUTH_HEADER_PREFIX": "Bearer",
    "AUTO_REFRESH": False,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Stripecoat API",
    "DESCRIPTION": "Coating inspection records: the same actions, sight and words as the pages.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api",
    "ENUM_NAME_OVERRIDES": {
        "LetterWay": "accounts.models.PostChoice.Way",
        "SaltsAs": "inspection.projects.coating.SaltsAs",
        "SteelworkGrade": "inspection.projects.coating.SteelworkGrade",
        "AbrasiveMethod": "inspection.fieldwork.abrasive.models.AbrasiveRecord.Method",
        "SeenOnCollector": "inspection.fieldwork.air.models.AirRecord.Seen",
        "SeenOrNone": "inspection.fieldwork.look.models.LookRecord.Seen",
        "FlashRust": "inspection.fieldwork.look.models.LookRecord.FlashRust",
        "HoldPointKind": "inspection.holdpoints.models.HoldPoint.Kind",
        "Method": "inspection.fieldwork.profile.models.ProfileRecord.Method",
        "Pencil": "inspection.standards.cure_tests.PENCILS",
        "StripeMethod": "inspection.projects.models.StripeCoat.Method",
        "QuestionOutcome": "reports.questions.models.ReadingAnswer.Outcome",
        "DeviationOutcome": "inspection.projects.models.DeviationAnswer.Outcome",
        "HoldPointState": "inspection.holdpoints.models.HoldPoint.State",
        "ActivityEnum": "inspection.plan.models.PlanLine.Activity",
        "LotActivity": "inspection.works.lots.models.Lot.Activity",
        "LotMethod": "inspection.works.lots.models.Lot.Method",
        "NoticeState": "inspection.notices.models.Notice.State",
        "PaintUnit": "inspection.works.paint.models.Unit",
        "UnitEnum": "inspection.foundation.units.Unit",
        "ShapeEnum": "inspection.projects.models.InspectionArea.Shape",
        "DiaryKind": "inspection.diary.models.DiaryEntry.Kind",
        "DelayCause": "inspection.diary.models.DiaryEntry.Cause",
        "EquipmentOnSite": "inspection.diary.models.DiaryEntry.State",
        "InstructionWay": "inspection.diary.models.DiaryEntry.Way",
        "DrawingFormat": "inspection.drawings.models.DrawingRevision.Format",
        "FormatEnum": "inspection.photos.models.Photo.Format",
        "PhotoShape": "inspection.photos.layers.SHAPE_NAMES",
        "PartyKind": "inspection.projects.models.Party.Kind",
        "PlanRevisionState": "inspection.plan.models.PlanRevision.State",
        "NonconformanceState": "inspection.nonconformance.models.Nonconformance.State",
        "ReworkItemState": "inspection.nonconformance.models.ReworkItem.State",
        "GaugeKind": "inspection.instruments.models.Gauge.Kind",
        "StandardKind": "inspection.instruments.models.ReferenceStandard.Kind",
        "EquipmentState": "inspection.instruments.models.Equipment.State",
    },
    "POSTPROCESSING_HOOKS": ["drf_spectacular.hooks.postprocess_schema_enums", "accounts.schema.with_problems"],
}

# --- logs -----------------------------------------------------------------------------------------------------------
# One handler for all, on standard error; what is logged during a request carries its id, as the journal does.
_EVERY_LINE: list[Any] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]
# Who asks is in the database, which a probe does without: the middleware that lets people in says who it was.
DJANGO_STRUCTLOG_USER_ID_FIELD = None
structlog.configure(
    processors=[
        structlog.stdlib.filter_by_level,
        *_EVERY_LINE,
        structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
    ],
    logger_factory=structlog.stdlib.LoggerFactory(),
    wrapper_class=structlog.stdlib.BoundLogger,
    cache_logger_on_first_use=True,
)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "lines": {
            "()": structlog.stdlib.ProcessorFormatter,
            "foreign_pre_chain": _EVERY_LINE,
            "processors": [
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                # Never the prettier formatters of developers' packages: they print the values of local variables.
                structlog.dev.ConsoleRenderer(colors=False, exception_formatter=structlog.dev.plain_traceback),
                mask_line,
            ],
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "lines"}},
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="WARNING")},
}
