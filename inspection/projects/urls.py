from django.urls import path

from inspection.projects import change_views, tree_views, views

urlpatterns = [
    path("projects/", views.project_list, name="project_list"),
    path("projects/new/", views.project_new, name="project_new"),
    path("projects/<uuid:pk>/", views.project, name="project"),
    path("projects/<uuid:pk>/correct/", views.project_correct, name="project_correct"),
    path("projects/<uuid:pk>/close/", views.project_close, name="project_close"),
    path("projects/<uuid:pk>/reopen/", views.project_reopen, name="project_reopen"),
    path("projects/<uuid:pk>/members/new/", views.member_new, name="member_new"),
    path("projects/<uuid:pk>/qualifications/", views.project_qualifications, name="project_qualifications"),
    path("projects/members/<uuid:pk>/end/", views.member_end, name="member_end"),
    path("projects/<uuid:pk>/structures/new/", views.structure_new, name="structure_new"),
    path("projects/structures/<uuid:pk>/", tree_views.structure, name="structure"),
    path("projects/structures/<uuid:pk>/correct/", tree_views.structure_correct, name="structure_correct"),
    path("projects/structures/<uuid:pk>/sections/new/", tree_views.section_new, name="section_new"),
    path("projects/sections/<uuid:pk>/change/", tree_views.section_change, name="section_change"),
    path("projects/sections/<uuid:pk>/remove/", tree_views.section_remove, name="section_remove"),
    path("projects/areas/<uuid:pk>/", tree_views.area, name="area"),
    path("projects/structures/<uuid:pk>/areas/merge/", change_views.areas_merge, name="areas_merge"),
    path("projects/areas/<uuid:pk>/divide/", change_views.area_divide, name="area_divide"),
    *(
        path(
            f"projects/areas/<uuid:pk>/{deed}/",
            change_views.area_change,
            {"deed": deed},
            name=f"area_{deed.replace('-', '_')}",
        )
        for deed in change_views.DEEDS
    ),
    path("projects/<uuid:pk>/systems/new/", views.system_new, name="system_new"),
    path("projects/<uuid:pk>/areas/new/", views.area_new, name="area_new"),
    path("projects/<uuid:pk>/areas/upload/", views.area_upload, name="area_upload"),
    path("projects/<uuid:pk>/areas.csv", views.area_file, name="area_file"),
]
