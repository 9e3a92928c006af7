"""A sign-in that its person ended from elsewhere: no request that was under way there brings it back."""

from __future__ import annotations

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore
from django.test import Client

from accounts.sessions import end_session
from inspection.fieldapp.middleware import SIGNED_OUT
from tests.cast import Cast

pytestmark = pytest.mark.django_db


def test_a_request_under_way_does_not_sign_the_lost_phone_in_again(cast: Cast) -> None:
    phone = Client()
    phone.force_login(cast.ines)
    key = str(phone.session.session_key)
    noted = UserSession.objects.create(user=cast.ines, session_key=key, ip="127.0.0.1")
    # As a request has it that was begun before and ends after.
    under_way = SessionStore(session_key=key)
    assert under_way["_auth_user_id"] == str(cast.ines.pk)
    end_session(cast.ines, pk=noted.pk)
    under_way["seen_at"] = 1.0
    with pytest.raises(UpdateError):
        under_way.save()
    answer = phone.get("/me/")
    assert (answer.status_code, answer.headers["Location"][:9]) == (302, "/sign-in/")
    assert answer.cookies[SIGNED_OUT].value == str(cast.ines.pk)
