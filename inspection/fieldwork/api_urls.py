from django.urls import path

from inspection.fieldwork import api, file_api, grid_api
from inspection.fieldwork.climate import station_api
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.fieldwork.printed import api as printed

urlpatterns = [
    path("thickness/", api.ThicknessList.as_view(), name="api_thickness_list"),
    path("thickness/files/", file_api.ThicknessFileList.as_view(), name="api_thickness_file"),
    path("thickness/files/look/", file_api.ThicknessFileLook.as_view(), name="api_thickness_file_look"),
    path("thickness/<uuid:pk>/", api.ThicknessDetail.as_view(), name="api_thickness"),
    path("thickness/<uuid:pk>/correct/", grid_api.ThicknessCorrect.as_view(), name="api_thickness_correct"),
    path("thickness/<uuid:pk>/result/", api.ThicknessResult.as_view(), name="api_thickness_result"),
    path("thickness/<uuid:pk>/conformance/", api.ThicknessConformance.as_view(), name="api_thickness_conformance"),
    path("calculations/", api.CalculationList.as_view(), name="api_calculation_list"),
    path("calculations/<slug:name>", api.Calculation.as_view(), name="api_calculation"),
]
for kind, taken in TAKEN_BY_FORM:
    many, one = api.views_of(kind, taken)
    urlpatterns += [
        path(f"{kind.name}/", many.as_view(), name=f"api_{kind.name}_list"),
        path(f"{kind.name}/<uuid:pk>/", one.as_view(), name=f"api_{kind.name}"),
    ]
    if taken.cautions:
        address = f"projects/<uuid:project>/{kind.name}/cautions/"
        urlpatterns.append(path(address, api.cautions_of(kind).as_view(), name=f"api_{kind.name}_cautions"))
urlpatterns += [
    path("stations/", station_api.StationList.as_view(), name="api_station_list"),
    path("stations/<uuid:pk>/", station_api.StationDetail.as_view(), name="api_station"),
    path("stations/<uuid:pk>/change/", station_api.StationChange.as_view(), name="api_station_change"),
    path("stations/<uuid:pk>/areas/", station_api.StationAreas.as_view(), name="api_station_areas"),
    path("stations/<uuid:pk>/end/", station_api.StationEnd.as_view(), name="api_station_end"),
    path("stations/<uuid:pk>/restore/", station_api.StationRestore.as_view(), name="api_station_restore"),
    path("stations/<uuid:pk>/readings/", station_api.StationReadings.as_view(), name="api_station_readings"),
    path("stations/<uuid:pk>/log/", station_api.StationLog.as_view(), name="api_station_log"),
    path("stations/<uuid:pk>/logger-files/", station_api.LoggerFileAdd.as_view(), name="api_logger_file_add"),
    path("stations/<uuid:pk>/logger-files/look/", station_api.LoggerFileLook.as_view(), name="api_logger_file_look"),
    path("logger-files/", station_api.LoggerFileList.as_view(), name="api_logger_file_list"),
    path("logger-files/<uuid:pk>/", station_api.LoggerFileDetail.as_view(), name="api_logger_file"),
    path("logger-files/<uuid:pk>/withdraw/", station_api.LoggerFileWithdraw.as_view(), name="api_logger_file_withdraw"),
    path("logger-files/<uuid:pk>/restore/", station_api.LoggerFileRestore.as_view(), name="api_logger_file_restore"),
]
urlpatterns += [
    path("printed-sheets/", printed.PrintedSheetList.as_view(), name="api_printed_list"),
    path("printed-sheets/<uuid:pk>/", printed.PrintedSheetDetail.as_view(), name="api_printed"),
    path("printed-sheets/<uuid:pk>/withdraw/", printed.PrintedSheetWithdraw.as_view(), name="api_printed_withdraw"),
    path("printed-sheets/<uuid:pk>/restore/", printed.PrintedSheetRestore.as_view(), name="api_printed_restore"),
]
