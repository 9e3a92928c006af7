from django.urls import path

from inspection.projects import api

urlpatterns = [
    path("projects/", api.ProjectList.as_view(), name="api_project_list"),
    path("projects/<uuid:pk>/", api.ProjectDetail.as_view(), name="api_project"),
    path("areas/", api.AreaList.as_view(), name="api_area_list"),
    path("areas/<uuid:pk>/", api.AreaDetail.as_view(), name="api_area"),
    path("sections/", api.SectionList.as_view(), name="api_section_list"),
    path("sections/<uuid:pk>/", api.SectionDetail.as_view(), name="api_section"),
    path("systems/", api.SystemList.as_view(), name="api_system_list"),
    path("systems/<uuid:pk>/", api.SystemDetail.as_view(), name="api_system"),
]
