"""Settings of the tests: the real ones, with a key, plain HTTP, a folder of their own and a quick password hash."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")


def _folder_of_this_process() -> Path:
    """One folder a run, which goes when the run ends; in it one for each process that tests at the same time."""
    run = os.environ.get("VAR_DIR")
    if not run:
        run = os.environ["VAR_DIR"] = tempfile.mkdtemp(prefix="stripecoat-tests-")
        atexit.register(shutil.rmtree, run, ignore_errors=True)
    return Path(run) if Path(run).name == WORKER else Path(run) / WORKER


os.environ.setdefault("SECRET_KEY", "for tests only")
os.environ.setdefault("PLAIN_HTTP", "1")
os.environ["VAR_DIR"] = str(_folder_of_this_process())
if os.environ.get("REDIS_URL"):
    # Redis numbers its databases; processes that test at the same time must not take each other's messages.
    number = int(WORKER.removeprefix("gw")) + 1 if WORKER else 0
    os.environ["REDIS_URL"] = f"{os.environ['REDIS_URL'].rpartition('/')[0]}/{number}"

from config.settings import *  # noqa: E402, F403 - the real ones, once the environment is set

# Argon2 takes its time on purpose; tests/accounts checks that the real settings use it.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}  # noqa: F405 - of the real ones
STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405 - of the real ones
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "testserver"]
if not REDIS_URL:  # noqa: F405 - of the real ones
    CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):  # noqa: F405 - of the real ones
    # A file, not memory: only there do WAL and IMMEDIATE mean anything, and other processes can open it.
    DATABASES["default"]["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}  # noqa: F405 - of the real ones
