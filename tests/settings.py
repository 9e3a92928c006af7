"""Settings of the tests: the real ones, with a key, plain HTTP, a folder of their own and a quick password hash."""

import os
import tempfile

os.environ.setdefault("SECRET_KEY", "for tests only")
os.environ.setdefault("PLAIN_HTTP", "1")
os.environ.setdefault("VAR_DIR", tempfile.mkdtemp(prefix="stripecoat-tests-"))

from config.settings import *  # noqa: F403

# Argon2 takes its time on purpose; tests/accounts checks that the real settings use it.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}  # noqa: F405
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "testserver"]
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
