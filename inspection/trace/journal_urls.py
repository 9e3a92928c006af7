from django.urls import path

from inspection.trace import journal_views

urlpatterns = [
    path("journal/", journal_views.journal, name="journal"),
    path("journal/<int:pk>/", journal_views.journal_entry, name="journal_entry"),
]
