"""Pages of the field room: today's work, thickness, climate."""

from django.urls import path

from inspection.fieldwork.views import climate, sheets, thickness, today, uploads

urlpatterns = [
    path("today/", today.today, name="today"),
    path("thickness/", thickness.thickness_list, name="thickness_list"),
    path("thickness/<uuid:pk>/", thickness.thickness, name="thickness"),
    path("thickness/<uuid:pk>/chart.svg", thickness.thickness_chart, name="thickness_chart"),
    path("thickness/<uuid:pk>/readings.csv", thickness.thickness_readings, name="thickness_readings"),
    path("thickness/<uuid:pk>/file/", thickness.thickness_file, name="thickness_file"),
    path("projects/<uuid:project>/thickness/start/", sheets.thickness_start, name="thickness_start"),
    path("projects/<uuid:project>/thickness/upload/", uploads.thickness_upload, name="thickness_upload"),
    path("projects/<uuid:project>/thickness/readings.csv", thickness.project_readings, name="project_readings"),
    path("projects/<uuid:project>/thickness/template.csv", uploads.thickness_template, name="thickness_template"),
    path("projects/<uuid:project>/thickness/upload/<str:digest>/", uploads.thickness_preview, name="thickness_preview"),
    path("sheets/<uuid:pk>/", sheets.sheet, name="sheet"),
    path("sheets/<uuid:pk>/readings/<int:reading>/void/", sheets.sheet_reading_void, name="sheet_reading_void"),
    path("sheets/<uuid:pk>/readings/<int:reading>/right/", sheets.sheet_reading_right, name="sheet_reading_right"),
    path("sheets/<uuid:pk>/finish/", sheets.sheet_finish, name="sheet_finish"),
    path("sheets/<uuid:pk>/abandon/", sheets.sheet_abandon, name="sheet_abandon"),
    path("climate/", climate.climate_list, name="climate_list"),
    path("climate/<uuid:pk>/", climate.climate, name="climate"),
    path("projects/<uuid:project>/climate/new/", climate.climate_new, name="climate_new"),
]
