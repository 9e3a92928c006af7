from django.urls import path

from inspection.projects import (
    area_labels,
    change_views,
    coating_views,
    party_views,
    revision_views,
    specification_views,
    tree_views,
    views,
)

urlpatterns = [
    path("projects/", views.project_list, name="project_list"),
    path("projects/new/", views.project_new, name="project_new"),
    path("projects/<uuid:pk>/", views.project, name="project"),
    path("projects/<uuid:pk>/correct/", views.project_correct, name="project_correct"),
    path("projects/<uuid:pk>/close/", views.project_close, name="project_close"),
    path("projects/<uuid:pk>/reopen/", views.project_reopen, name="project_reopen"),
    path("projects/<uuid:pk>/members/new/", views.member_new, name="member_new"),
    path("projects/<uuid:pk>/parties/new/", party_views.party_new, name="party_new"),
    path("projects/parties/<uuid:pk>/", party_views.party, name="party"),
    path("projects/parties/<uuid:pk>/end/", party_views.party_end, name="party_end"),
    path("projects/parties/<uuid:pk>/take-up/", party_views.party_take_up, name="party_take_up"),
    path("projects/parties/<uuid:pk>/scope/", party_views.scope_give, name="scope_give"),
    path("projects/scopes/<uuid:pk>/end/", party_views.scope_end, name="scope_end"),
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
    path("projects/systems/<uuid:pk>/", revision_views.system, name="system"),
    path("projects/systems/<uuid:pk>/revise/", revision_views.system_revise, name="system_revise"),
    path("projects/systems/<uuid:pk>/take-back/", revision_views.system_take_back, name="system_take_back"),
    path("projects/<uuid:pk>/specifications/new/", specification_views.specification_new, name="specification_new"),
    path("projects/specifications/<uuid:pk>/", specification_views.specification, name="specification"),
    *(
        path(f"projects/specifications/<uuid:pk>/{deed}/", view, name=name)
        for deed, view, name in (
            ("correct", specification_views.specification_correct, "specification_correct"),
            ("remove", specification_views.specification_remove, "specification_remove"),
            ("revise", specification_views.specification_revise, "specification_revise"),
            ("deviations/new", specification_views.deviation_ask, "deviation_ask"),
        )
    ),
    path(
        "projects/specification-revisions/<uuid:pk>/file/",
        specification_views.specification_file,
        name="specification_file",
    ),
    path("projects/deviations/<uuid:pk>/answer/", specification_views.deviation_answer, name="deviation_answer"),
    *(
        path(
            f"projects/{address}/<uuid:pk>/take-back/",
            specification_views.specification_withdraw,
            {"what": what},
            name=name,
        )
        for address, what, name in (
            ("specification-revisions", "revisions", "revision_withdraw"),
            ("deviations", "deviations", "deviation_withdraw"),
            ("deviation-answers", "answers", "answer_withdraw"),
        )
    ),
    path("projects/<uuid:pk>/data-sheets/new/", coating_views.data_sheet_new, name="data_sheet_new"),
    path("projects/data-sheets/<uuid:pk>/", coating_views.data_sheet, name="data_sheet"),
    path("projects/data-sheets/<uuid:pk>/correct/", coating_views.data_sheet_correct, name="data_sheet_correct"),
    path("projects/data-sheets/<uuid:pk>/remove/", coating_views.data_sheet_remove, name="data_sheet_remove"),
    path("projects/coats/<uuid:pk>/data-sheet/", coating_views.coat_data_sheet, name="coat_data_sheet"),
    path("projects/systems/<uuid:pk>/stripes/new/", coating_views.stripe_new, name="stripe_new"),
    path("projects/stripes/<uuid:pk>/change/", coating_views.stripe_change, name="stripe_change"),
    path("projects/stripes/<uuid:pk>/remove/", coating_views.stripe_remove, name="stripe_remove"),
    path("projects/<uuid:pk>/areas/new/", views.area_new, name="area_new"),
    path("projects/<uuid:pk>/areas/upload/", views.area_upload, name="area_upload"),
    path("projects/<uuid:pk>/areas/labels/", area_labels.area_labels, name="area_labels"),
    path("projects/<uuid:pk>/areas.csv", views.area_file, name="area_file"),
]
