"""The field app's page, its worker and its manifest; everything else of it lies in static/field."""

from __future__ import annotations

import json

from csp.utils import build_policy
from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.middleware import SignedIn
from inspection.fieldapp import files

# Asked for anew each time: whoever has an old one must learn of the new one.
FRESH = "no-cache"


@require_safe
def field_app(request: SignedIn) -> HttpResponse:
    """The page for the first time; from then on the worker on the phone gives it."""
    return HttpResponse(files.page(version=files.app().version))


@require_safe
def field_worker(request: HttpRequest) -> HttpResponse:
    """The worker, with the version, the files it keeps and the page itself; the same for everybody."""
    app = files.app()
    head = {
        "VERSION": app.version,
        "FILES": app.files,
        "ADDRESS": reverse("field-app"),
        "PAGE": files.page(version=app.version),
        # In one order: processes that gave other bytes would each seem to have a new version.
        "POLICY": "; ".join(sorted(build_policy().split("; "))),
    }
    told = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in head.items())
    answer = HttpResponse(told + files.worker(), content_type="text/javascript; charset=utf-8")
    answer["Cache-Control"] = FRESH
    return answer


@require_safe
def field_manifest(request: HttpRequest) -> HttpResponse:
    """The web app manifest (W3C), by which a phone installs the app."""
    icons = [
        {"src": f"{settings.STATIC_URL}field/icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    icons.append({**icons[-1], "src": f"{settings.STATIC_URL}field/icon-maskable.png", "purpose": "maskable"})
    told = {
        "id": reverse("field-app"), "name": "Stripecoat in the field", "short_name": "Stripecoat",
        "description": "Coating inspection where there is no signal: kept on the phone, sent later.",
        "start_url": reverse("field-app"), "scope": reverse("field-app"), "display": "standalone", "lang": "en",
        "background_color": "#f4f4f0", "theme_color": "#0b5163", "icons": icons,
    }  # fmt: skip
    answer = JsonResponse(told, content_type="application/manifest+json")
    answer["Cache-Control"] = FRESH
    return answer
