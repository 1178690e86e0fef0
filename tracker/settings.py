"""All settings, read from the environment; a clone runs without any of them."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from tracker.environment import (
    env_bool,
    env_database,
    env_hosts,
    env_int,
    env_list,
    env_mail,
    env_origin,
    env_text,
    refuse_unknown,
)

refuse_unknown(os.environ)
BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env_text("TRACKER_DATA_DIR", str(BASE_DIR / "var")))

DEVELOPMENT_KEY = "only-for-development-on-loopback-never-for-a-served-installation"
PRODUCTION = env_bool("TRACKER_PRODUCTION", False)
DEBUG = env_bool("TRACKER_DEBUG", False)
SECRET_KEY = env_text("TRACKER_SECRET_KEY", DEVELOPMENT_KEY)
ALLOWED_HOSTS = env_list("TRACKER_ALLOWED_HOSTS", ["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env_list("TRACKER_TRUSTED_ORIGINS", [])
# Links in mail start with it, whatever host a request names.
BASE_URL = env_origin("TRACKER_BASE_URL", "http://127.0.0.1:8000")
# How many proxies stand before the service; what they forward is believed, no more.
PROXIES = env_int("TRACKER_PROXIES", 0)

if PRODUCTION:
    if (
        SECRET_KEY == DEVELOPMENT_KEY
        or len(SECRET_KEY) < 50
        or len(set(SECRET_KEY)) < 5
    ):
        raise ImproperlyConfigured(
            "TRACKER_SECRET_KEY: production needs an own secret of 50 characters or more."
        )
    if DEBUG:
        raise ImproperlyConfigured("TRACKER_DEBUG: must be off in production.")
    if not ALLOWED_HOSTS or "*" in ALLOWED_HOSTS:
        raise ImproperlyConfigured(
            "TRACKER_ALLOWED_HOSTS: name the hosts that production serves."
        )
    if not BASE_URL.startswith("https://"):
        raise ImproperlyConfigured(
            "TRACKER_BASE_URL: production needs the https address that people open."
        )

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "tracker.accounts",  # before allauth, whose templates it replaces
    "allauth",
    "allauth.account",
    "csp",
    "rest_framework",
    "drf_spectacular",
    "notices",
    "tracker.fleet",
    "tracker.compliance",
    "tracker.watch",
    "tracker.backup",
    "tracker.api",
    "tracker.web",
]

# What only sets headers stands first, so that no answer leaves without them.
MIDDLEWARE = [
    "tracker.headers.BrowserHeaders",
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "tracker.accounts.middleware.ViewerMiddleware",
    "tracker.gate.DeclaredRoutes",
]

ROOT_URLCONF = "tracker.urls"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "tracker.accounts.context.viewer",
            ],
        },
    }
]

DATABASES = {
    "default": env_database(
        "TRACKER_DATABASE_URL", f"sqlite:///{DATA_DIR / 'tracker.sqlite3'}"
    )
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
NOTICES_STATION_MODEL = "accounts.Station"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        # Fifteen without a second factor: NIST SP 800-63B-4.
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": (
            "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"
        )
    },
]

PASSWORD_RESET_TIMEOUT = 4 * 60 * 60  # the mail says so in words

ACCOUNT_ADAPTER = "tracker.accounts.adapter.ClosedAdapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_FORMS = {
    "login": "tracker.accounts.forms.SignIn",
    "change_password": "tracker.accounts.forms.ChangePassword",
    "reset_password": "tracker.accounts.forms.ForgottenPassword",
    "reset_password_from_key": "tracker.accounts.forms.ChoosePassword",
}
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
# Counted in the cache, which every process shares. A name is slowed, never locked.
ACCOUNT_RATE_LIMITS = {
    "login": "60/m/ip",
    "login_failed": "10/5m/key,100/h/ip",
    "reset_password": "20/h/ip,5/h/key",
    "reset_password_from_key": "20/h/ip",
    "change_password": "5/5m/user",
    # Of people without an account: checks of an engine, and messages to a station.
    "check": "30/m/ip,300/h/ip",
    "enquiry": "5/h/ip,60/d/key",
    # Of secret addresses, looked at or sent; a key is how the secret begins. Providers
    # of mail unsubscribe many people from one place, and calendars ask all day.
    "hours": "60/m/ip,600/h/ip,30/m/key",
    "unsubscribe": "300/m/ip,30/m/key",
    "calendar": "120/m/ip,120/h/key",
}
ALLAUTH_TRUSTED_PROXY_COUNT = PROXIES
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"

SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if PRODUCTION:
    SESSION_COOKIE_SECURE = True
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_SECURE = True
    CSRF_COOKIE_NAME = "__Host-csrf"
    SECURE_SSL_REDIRECT = True
    # Who watches the service asks it from beside it, without a proxy between.
    SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
    SECURE_HSTS_SECONDS = 31_536_000
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    if PROXIES:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "connect-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "font-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "object-src": ["'none'"],
    }
}

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
DOCUMENT_DIR = DATA_DIR / "documents"
ATTACHMENT_DIR = DATA_DIR / "attachments"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if PRODUCTION
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_AUTOREFRESH = not PRODUCTION  # nothing is collected on a developer's machine
DOCUMENT_LIMIT_BYTES = 25_000_000
ATTACHMENT_LIMIT_BYTES = 15_000_000
SHEET_LIMIT_BYTES = 10_000_000
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000

MAIL = env_mail("TRACKER_EMAIL_URL", "folder:")
MAIL_DIR = DATA_DIR / "mail"
# How many mails a second each process sends; 0 for as many as the server takes.
MAIL_RATE = env_int("TRACKER_MAIL_RATE", 0)
EMAIL_BACKEND = MAIL.backend
EMAIL_HOST = MAIL.host
EMAIL_PORT = MAIL.port
EMAIL_HOST_USER = MAIL.user
EMAIL_HOST_PASSWORD = MAIL.password
EMAIL_USE_TLS = MAIL.starttls
EMAIL_USE_SSL = MAIL.tls
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env_text("TRACKER_FROM_EMAIL", "tracker@localhost")
SERVER_EMAIL = DEFAULT_FROM_EMAIL

# Hosts that events may be posted to although they are not public or on another port.
WEBHOOK_HOSTS = env_hosts("TRACKER_WEBHOOK_HOSTS")

REDIS_URL = env_text("TRACKER_REDIS_URL")
CELERY_BROKER_URL = REDIS_URL or "memory://"
CELERY_TASK_ALWAYS_EAGER = not REDIS_URL
# No task waits in the queue for its time: time lies in the rows, in UTC. A task that its
# worker did not live to finish comes back, later than any may run.
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "global_keyprefix": "tracker:",
    "visibility_timeout": 900,
    "socket_timeout": 30,
    "socket_connect_timeout": 5,
    "socket_keepalive": True,
    "health_check_interval": 10,
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
# A task that lost its queue may end: whoever gets it again finds in its row that it was
# done. Killed, it would leave messages of which nobody knows whether they were taken.
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = False
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 30
CELERY_WORKER_MAX_TASKS_PER_CHILD = 500
CELERY_WORKER_MAX_MEMORY_PER_CHILD = 400_000
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"
CELERY_ENABLE_UTC = True
# A tick that came late is worth nothing: the next one does all that is due.
CELERY_BEAT_SCHEDULE = {
    "tick": {
        "task": "tracker.watch.tasks.tick",
        "schedule": 60.0,
        "options": {"expires": 60},
    }
}
# Sign-in limits count in it: shared by all processes of a served installation.
if REDIS_URL:
    CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": REDIS_URL,
            "KEY_PREFIX": "tracker",
        }
    }
elif PRODUCTION:
    CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
            "LOCATION": str(DATA_DIR / "cache"),
        }
    }

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["tracker.api.authentication.SignedInSession"],
    "DEFAULT_PERMISSION_CLASSES": ["tracker.api.permissions.DeclaredAccess"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "tracker.api.schema.ProblemSchema",
    "DEFAULT_PAGINATION_CLASS": "tracker.api.pages.Pages",
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {
        "user": f"{env_int('TRACKER_API_RATE', 600, least=1)}/min"
    },
    "EXCEPTION_HANDLER": "tracker.api.errors.as_problem",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Engine notice and overhaul tracker",
    "DESCRIPTION": "Engines, findings, what is due, publications, hours, fuel, "
    "and the ledger.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "SERVE_PUBLIC": True,
    "ENUM_NAME_OVERRIDES": {
        "PublicationKind": "notices.models.publications.Kind",
        "ProvisionKind": "notices.models.provisions.Provision.Kind",
        "FuelKind": "tracker.fleet.models.fuel.FuelKind",
        "RecordKind": "tracker.compliance.models.records.RecordKind",
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}
    },
    "filters": {"secrets": {"()": "tracker.log_masks.WithoutSecrets"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "line",
            "filters": ["secrets"],
        }
    },
    "root": {"handlers": ["console"], "level": "INFO"},
    # The server for development writes each address it is asked for.
    "loggers": {"django.server": {"handlers": ["console"], "propagate": False}},
}
