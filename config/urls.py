from django.urls import include, path

urlpatterns = [
    path("", include("reports.urls")),
    path("", include("accounts.urls")),
    path("", include("inspection.projects.urls")),
    path("", include("inspection.works.urls")),
    path("", include("inspection.instruments.urls")),
    path("", include("inspection.fieldwork.urls")),
    path("", include("inspection.calculators.urls")),
    path("", include("inspection.standing.urls")),
    path("", include("inspection.nonconformance.urls")),
    path("", include("inspection.plan.urls")),
    path("", include("inspection.holdpoints.urls")),
    path("", include("inspection.notices.urls")),
    path("", include("inspection.photos.urls")),
    path("", include("inspection.drawings.urls")),
    path("", include("inspection.diary.urls")),
    path("", include("inspection.fieldapp.urls")),
    # Before the trace, whose addresses would read “recall” as a kind of thing.
    path("", include("inspection.recall.urls")),
    path("", include("inspection.trace.urls")),
    path("", include("inspection.trace.journal_urls")),
    path("api/", include("config.api")),
]

handler400 = "accounts.errors.bad_request"
handler403 = "accounts.errors.denied"
handler404 = "accounts.errors.not_found"
handler500 = "accounts.errors.failed"
