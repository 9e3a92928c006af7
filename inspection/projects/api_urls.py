from django.urls import path

from inspection.projects import api, breakdown_api, party_api, revision_api, specification_api, table_api

urlpatterns = [
    path("projects/", api.ProjectList.as_view(), name="api_project_list"),
    path("projects/<uuid:pk>/", api.ProjectDetail.as_view(), name="api_project"),
    path("parties/", api.PartyList.as_view(), name="api_party_list"),
    path("parties/<uuid:pk>/", api.PartyDetail.as_view(), name="api_party"),
    path("parties/add/", party_api.PartyAdd.as_view(), name="api_party_add"),
    path("parties/<uuid:pk>/end/", party_api.PartyEnd.as_view(), name="api_party_end"),
    path("parties/<uuid:pk>/take-up/", party_api.PartyTakeUp.as_view(), name="api_party_take_up"),
    path("parties/<uuid:pk>/scope/", party_api.ScopeGive.as_view(), name="api_scope_give"),
    path("projects/<uuid:pk>/members/", party_api.MemberAdd.as_view(), name="api_member_add"),
    path("members/<uuid:pk>/end/", party_api.MemberEnd.as_view(), name="api_member_end"),
    path("scopes/<uuid:pk>/end/", party_api.ScopeEnd.as_view(), name="api_scope_end"),
    path("projects/<uuid:pk>/areas/files/", table_api.AreaFiles.as_view(), name="api_area_table"),
    path("areas/", api.AreaList.as_view(), name="api_area_list"),
    path("areas/<uuid:pk>/", api.AreaDetail.as_view(), name="api_area"),
    path("sections/", api.SectionList.as_view(), name="api_section_list"),
    path("sections/<uuid:pk>/", api.SectionDetail.as_view(), name="api_section"),
    *(
        path(f"areas/<uuid:pk>/{deed}/", view.as_view(), name=f"api_area_{deed}")
        for deed, view in (
            ("measure", breakdown_api.AreaMeasure),
            ("rename", breakdown_api.AreaRename),
            ("move", breakdown_api.AreaMove),
            ("system", breakdown_api.AreaSystem),
            ("divide", breakdown_api.AreaDivide),
            ("retire", breakdown_api.AreaRetire),
            ("restore", breakdown_api.AreaRestore),
        )
    ),
    path("areas/merge/", breakdown_api.AreasMerge.as_view(), name="api_areas_merge"),
    path("sections/add/", breakdown_api.SectionAdd.as_view(), name="api_section_add"),
    path("sections/<uuid:pk>/change/", breakdown_api.SectionChange.as_view(), name="api_section_change"),
    path("sections/<uuid:pk>/remove/", breakdown_api.SectionRemove.as_view(), name="api_section_remove"),
    path("systems/", api.SystemList.as_view(), name="api_system_list"),
    path("areas/<uuid:pk>/steps/", revision_api.AreaSteps.as_view(), name="api_area_steps"),
    path("specifications/", specification_api.SpecificationList.as_view(), name="api_specification_list"),
    path("specifications/add/", specification_api.SpecificationAdd.as_view(), name="api_specification_add"),
    *(
        path(f"{address}/", view.as_view(), name=f"api_{name}")
        for address, view, name in (
            ("specifications/<uuid:pk>", specification_api.SpecificationDetail, "specification"),
            ("specifications/<uuid:pk>/correct", specification_api.SpecificationCorrect, "specification_correct"),
            ("specifications/<uuid:pk>/remove", specification_api.SpecificationRemove, "specification_remove"),
            ("specifications/<uuid:pk>/revise", specification_api.SpecificationRevise, "specification_revise"),
            ("specifications/<uuid:pk>/deviations", specification_api.DeviationAsk, "deviation_ask"),
            ("deviations/<uuid:pk>/answer", specification_api.DeviationAnswered, "deviation_answer"),
            ("specification-revisions/<uuid:pk>/take-back", specification_api.RevisionWithdraw, "revision_withdraw"),
            ("deviations/<uuid:pk>/take-back", specification_api.DeviationWithdraw, "deviation_withdraw"),
            ("deviation-answers/<uuid:pk>/take-back", specification_api.AnswerWithdraw, "answer_withdraw"),
        )
    ),
    path("systems/<uuid:pk>/revise/", revision_api.SystemRevise.as_view(), name="api_system_revise"),
    path("systems/<uuid:pk>/take-back/", revision_api.SystemTakeBack.as_view(), name="api_system_take_back"),
    path("systems/<uuid:pk>/", api.SystemDetail.as_view(), name="api_system"),
]
