from django.urls import path

from reports.daily import api

urlpatterns = [
    path("reports/", api.ReportList.as_view(), name="api_report_list"),
    path("reports/<uuid:pk>/", api.ReportDetail.as_view(), name="api_report"),
    path("reports/<uuid:pk>/revisions/<int:revision>/file/", api.ReportFile.as_view(), name="api_report_file"),
]
