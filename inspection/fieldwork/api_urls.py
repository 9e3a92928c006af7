from django.urls import path

from inspection.fieldwork import api
from inspection.fieldwork.kinds import TAKEN_BY_FORM

urlpatterns = [
    path("thickness/", api.ThicknessList.as_view(), name="api_thickness_list"),
    path("thickness/<uuid:pk>/", api.ThicknessDetail.as_view(), name="api_thickness"),
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
