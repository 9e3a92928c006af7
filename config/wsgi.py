import gc
import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

served = get_wsgi_application()

from django.conf import settings  # noqa: E402 - read by the line above

from inspection.foundation.readable import survives_charsets  # noqa: E402 - needs the settings

application = survives_charsets(served)

# All pages, which the first request would load. What is there by now stays as long as the process, so the collector of
# garbage need not go through it again and again while a request makes thousands of rows: a third of an upload's time.
import_module(settings.ROOT_URLCONF)
gc.collect()
gc.freeze()
