"""The API's addresses: each room adds its own, under /api/."""

from django.urls import include, path

urlpatterns = [
    path("", include("accounts.api_urls")),
    path("", include("inspection.projects.api_urls")),
    path("", include("inspection.works.api_urls")),
    path("", include("inspection.instruments.api_urls")),
    path("", include("inspection.fieldwork.api_urls")),
    path("", include("inspection.standing.api_urls")),
    path("", include("inspection.nonconformance.api_urls")),
    path("", include("inspection.plan.api_urls")),
    path("", include("inspection.holdpoints.api_urls")),
    path("", include("inspection.notices.api_urls")),
    path("", include("inspection.photos.api_urls")),
    path("", include("inspection.drawings.api_urls")),
    path("", include("inspection.diary.api_urls")),
    path("", include("inspection.fieldapp.api_urls")),
    path("", include("inspection.trace.api_urls")),
    path("", include("inspection.recall.api_urls")),
    path("", include("reports.api_urls")),
]
