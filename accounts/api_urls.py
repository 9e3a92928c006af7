from django.urls import path

from accounts import api_views

urlpatterns = [
    path("schema/", api_views.Schema.as_view(), name="api_schema"),
    path("problems/<slug:kind>/", api_views.problem_kind, name="api_problem"),
    path("me/", api_views.Me.as_view(), name="api_me"),
    path("me/letters/", api_views.LetterChoices.as_view(), name="api_letter_choices"),
    path("tokens/", api_views.Tokens.as_view(), name="api_token_list"),
    path("tokens/<str:key>/", api_views.TokenOne.as_view(), name="api_token"),
]
