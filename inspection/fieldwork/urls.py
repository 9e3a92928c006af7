"""Pages of the field room: today's work, the sheets and uploads of thickness, and those that all kinds share."""

from django.urls import path

from inspection.fieldwork.climate import log_views, station_views
from inspection.fieldwork.climate.log_shown import CHARTS
from inspection.fieldwork.kinds import KINDS, TAKEN_BY_FORM
from inspection.fieldwork.printed import views as printed
from inspection.fieldwork.views import columns, grid, observed, sheets, thickness, today, uploads

urlpatterns = [
    path("today/", today.today, name="today"),
    path("records/", observed.all_records, name="records"),
    path("thickness/<uuid:pk>/", thickness.thickness, name="thickness"),
    path("thickness/<uuid:pk>/grid/", grid.thickness_grid, name="thickness_grid"),
    path("thickness/<uuid:pk>/grid/changes/", grid.thickness_changes, name="thickness_changes"),
    path("thickness/<uuid:pk>/chart.svg", thickness.thickness_chart, name="thickness_chart"),
    path("thickness/<uuid:pk>/readings.csv", thickness.thickness_readings, name="thickness_readings"),
    path("thickness/<uuid:pk>/file/", thickness.thickness_file, name="thickness_file"),
    path("projects/<uuid:project>/thickness/start/", sheets.thickness_start, name="thickness_start"),
    path("projects/<uuid:project>/thickness/upload/", uploads.thickness_upload, name="thickness_upload"),
    path("projects/<uuid:project>/thickness/readings.csv", thickness.project_readings, name="project_readings"),
    path("projects/<uuid:project>/thickness/template.csv", uploads.thickness_template, name="thickness_template"),
    path("projects/<uuid:project>/thickness/upload/<str:digest>/", uploads.thickness_preview, name="thickness_preview"),
    path(
        "projects/<uuid:project>/thickness/upload/<str:digest>/columns/",
        columns.thickness_columns,
        name="thickness_columns",
    ),
    path("sheets/<uuid:pk>/", sheets.sheet, name="sheet"),
    path("sheets/<uuid:pk>/readings/<int:reading>/void/", sheets.sheet_reading_void, name="sheet_reading_void"),
    path("sheets/<uuid:pk>/readings/<int:reading>/right/", sheets.sheet_reading_right, name="sheet_reading_right"),
    path("sheets/<uuid:pk>/finish/", sheets.sheet_finish, name="sheet_finish"),
    path("sheets/<uuid:pk>/abandon/", sheets.sheet_abandon, name="sheet_abandon"),
]
for kind in KINDS:
    urlpatterns.append(path(f"{kind.name}/", observed.record_list, {"kind": kind}, name=f"{kind.name}_list"))
for kind, taken in TAKEN_BY_FORM:
    urlpatterns += [
        path(f"{kind.name}/<uuid:pk>/", observed.record, {"kind": kind}, name=kind.name),
        path(
            f"projects/<uuid:project>/{kind.name}/new/",
            observed.record_new,
            {"kind": kind, "taken": taken},
            name=f"{kind.name}_new",
        ),
    ]
urlpatterns += [
    path("projects/<uuid:pk>/stations/", station_views.station_list, name="station_list"),
    path("projects/<uuid:pk>/stations/new/", station_views.station_new, name="station_new"),
    path("stations/<uuid:pk>/", station_views.station, name="station"),
    path("stations/<uuid:pk>/readings/new/", station_views.station_read, name="station_read"),
    path("stations/<uuid:pk>/log/", log_views.station_log, name="station_log"),
    path("stations/<uuid:pk>/logger/new/", log_views.logger_new, name="logger_new"),
    path("stations/<uuid:pk>/logger/<str:digest>/", log_views.logger_preview, name="logger_preview"),
    path("stations/<uuid:pk>/logger/<str:digest>/columns/", log_views.logger_columns, name="logger_columns"),
    path("logger-files/<uuid:pk>/", log_views.logger_file, name="logger_file"),
    path("logger-files/<uuid:pk>/file/", log_views.logger_download, name="logger_download"),
    *(
        path(f"stations/<uuid:pk>/log/{which}.svg", log_views.station_chart, {"which": which}, name=f"log_{which}")
        for which in CHARTS
    ),
    *(
        path(f"stations/<uuid:pk>/{deed}/", station_views.station_change, {"deed": deed}, name=f"station_{deed}")
        for deed in station_views.DEEDS
    ),
    *(
        path(f"logger-files/<uuid:pk>/{deed}/", log_views.logger_change, {"deed": deed}, name=f"logger_{deed}")
        for deed in ("withdraw", "restore")
    ),
]
urlpatterns += [
    path("projects/<uuid:project>/printed/", printed.printed_new, name="printed_new"),
    path("printed/", printed.printed_list, name="printed_list"),
    path("printed/<slug:code>/", printed.printed_sheet, name="printed_sheet"),
    path("printed/<slug:code>/sheet.pdf", printed.printed_pdf, name="printed_pdf"),
    path("printed/<slug:code>/<int:number>/", printed.printed_enter, name="printed_enter"),
    *(
        path(f"printed/<slug:code>/{deed}/", printed.printed_change, {"deed": deed}, name=f"printed_{deed}")
        for deed in ("withdraw", "restore")
    ),
]
