from django.urls import path

from inspection.fieldwork import api

urlpatterns = [
    path("thickness/", api.ThicknessList.as_view(), name="api_thickness_list"),
    path("thickness/<uuid:pk>/", api.ThicknessDetail.as_view(), name="api_thickness"),
    path("thickness/<uuid:pk>/result/", api.ThicknessResult.as_view(), name="api_thickness_result"),
    path("climate/", api.ClimateList.as_view(), name="api_climate_list"),
    path("climate/<uuid:pk>/", api.ClimateDetail.as_view(), name="api_climate"),
    path("calculations/", api.CalculationList.as_view(), name="api_calculation_list"),
    path("calculations/<slug:name>", api.Calculation.as_view(), name="api_calculation"),
]
