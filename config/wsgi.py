import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

served = get_wsgi_application()

from inspection.foundation.readable import survives_charsets  # noqa: E402 - needs the settings that the line above read

application = survives_charsets(served)
