from __future__ import annotations

from datetime import date

from django.urls import path, register_converter

from inspection.diary import views

# Of no other year is there a day of a project.
FIRST_YEAR, LAST_YEAR = 2000, 2100


class DayConverter:
    """A day in an address, such as 2026-03-04; what is none leads nowhere."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, text: str) -> date:
        day = date.fromisoformat(text)
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise ValueError
        return day

    def to_url(self, day: date) -> str:
        return day.isoformat()


register_converter(DayConverter, "day")

urlpatterns = [
    path("projects/<uuid:pk>/days/", views.day_list, name="day_list"),
    path("projects/<uuid:pk>/days/<day:day>/", views.day, name="day"),
    path("projects/<uuid:pk>/days/<day:day>/sign/", views.day_sign, name="day_sign"),
    path("projects/<uuid:pk>/days/<day:day>/<slug:kind>/new/", views.entry_new, name="diary_entry_new"),
    path("diary/<uuid:pk>/", views.entry, name="diary_entry"),
    path("diary/<uuid:pk>/correct/", views.entry_correct, name="diary_entry_correct"),
    path("diary/<uuid:pk>/withdraw/", views.entry_withdraw, name="diary_entry_withdraw"),
    path("diary/<uuid:pk>/restore/", views.entry_restore, name="diary_entry_restore"),
    path("diary/<uuid:pk>/read/", views.note_read, name="note_read"),
    path("diary/<uuid:pk>/unread/", views.note_unread, name="note_unread"),
    path("day-signatures/<uuid:pk>/", views.signature, name="day_signature"),
    path("day-signatures/<uuid:pk>/withdraw/", views.signature_withdraw, name="day_signature_withdraw"),
]
