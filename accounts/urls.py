"""Sign-in (only the library's routes that are used here), one's own page, people, and the API's kinds of problem."""

from allauth.account import views as allauth
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as app
from allauth.mfa.webauthn import views as passkeys
from django.urls import path, re_path
from django.views.decorators.http import require_safe

from accounts import admission_views, factor_views, letter_views, views
from accounts.views import page

urlpatterns = [
    path("found/", views.found, name="found"),
    path("sign-in/", views.sign_in, name="account_login"),
    path("sign-in/code/", page(mfa.authenticate), name="mfa_authenticate"),
    path("sign-out/", page(allauth.logout), name="account_logout"),
    path("sign-up/", page(allauth.signup), name="account_signup"),
    path("closed/", page(allauth.account_inactive), name="account_inactive"),
    path("password/", page(allauth.password_reset), name="account_reset_password"),
    path("password/sent/", page(allauth.password_reset_done), name="account_reset_password_done"),
    re_path(
        r"^password/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        page(allauth.password_reset_from_key),
        name="account_reset_password_from_key",
    ),
    path("password/set/", page(allauth.password_reset_from_key_done), name="account_reset_password_from_key_done"),
    path("invitation/<str:token>/", views.accept_invitation, name="accept_invitation"),
    path("me/", views.me, name="me"),
    path("me/password/", views.change_password, name="account_change_password"),
    path("me/again/", page(allauth.reauthenticate), name="account_reauthenticate"),
    path("me/again/code/", page(mfa.reauthenticate), name="mfa_reauthenticate"),
    path("me/again/passkey/", page(passkeys.reauthenticate_webauthn), name="mfa_reauthenticate_webauthn"),
    path("me/factors/", require_safe(mfa.index), name="mfa_index"),
    path("me/factors/app/", page(app.activate_totp), name="mfa_activate_totp"),
    path("me/factors/app/end/", page(app.deactivate_totp), name="mfa_deactivate_totp"),
    path("me/factors/passkeys/", require_safe(passkeys.list_webauthn), name="mfa_list_webauthn"),
    path("me/factors/passkeys/add/", page(passkeys.add_webauthn), name="mfa_add_webauthn"),
    path("me/factors/passkeys/<int:pk>/", page(passkeys.edit_webauthn), name="mfa_edit_webauthn"),
    path("me/factors/passkeys/<int:pk>/end/", page(passkeys.remove_webauthn), name="mfa_remove_webauthn"),
    path("me/factors/codes/", require_safe(codes.view_recovery_codes), name="mfa_view_recovery_codes"),
    path("me/factors/codes/new/", page(codes.generate_recovery_codes), name="mfa_generate_recovery_codes"),
    path("me/factors/codes/file/", require_safe(codes.download_recovery_codes), name="mfa_download_recovery_codes"),
    path("me/sessions/", factor_views.sessions_list, name="sessions"),
    path("me/sessions/<int:pk>/end/", factor_views.session_end, name="session_end"),
    path("me/tokens/new/", views.token_new, name="token_new"),
    path("me/tokens/<str:token_key>/revoke/", views.token_revoke, name="token_revoke"),
    path("me/letters/", letter_views.letter_choices, name="letter_choices"),
    path("letters/", letter_views.letters, name="letters"),
    path("letters/<uuid:pk>/again/", letter_views.letter_again, name="letter_again"),
    path("letters/<uuid:pk>/aside/", letter_views.letter_aside, name="letter_aside"),
    path("people/", views.people, name="people"),
    path("people/invite/", views.invite, name="invite"),
    path("people/invitations/<uuid:pk>/withdraw/", views.invitation_withdraw, name="invitation_withdraw"),
    path("people/organisations/new/", views.organisation_new, name="organisation_new"),
    path("people/organisations/<uuid:pk>/rename/", views.organisation_rename, name="organisation_rename"),
    path("people/<uuid:pk>/rename/", views.person_rename, name="person_rename"),
    path("people/<uuid:pk>/", views.person, name="person"),
    path("people/<uuid:pk>/roles/", views.role_give, name="role_give"),
    path("people/<uuid:pk>/roles/<slug:role>/end/", views.role_end, name="role_end"),
    path("people/<uuid:pk>/confirm/", admission_views.person_confirm, name="person_confirm"),
    path("people/<uuid:pk>/turn-away/", admission_views.person_turn_away, name="person_turn_away"),
    path("our-people/", admission_views.our_people, name="our_people"),
    path("people/second-factor/", factor_views.factor_rule, name="factor_rule"),
    path("people/<uuid:pk>/second-factor/reset/", factor_views.factor_reset, name="factor_reset"),
    path("people/<uuid:pk>/close/", views.person_deactivate, name="person_deactivate"),
    path("people/<uuid:pk>/qualifications/", views.qualification_new, name="qualification_new"),
    path("people/qualifications/<uuid:pk>/correct/", views.qualification_correct, name="qualification_correct"),
    path("people/qualifications/<uuid:pk>/withdraw/", views.qualification_withdraw, name="qualification_withdraw"),
    path("people/schemes/", views.schemes, name="schemes"),
    path("people/schemes/<uuid:pk>/", views.scheme, name="scheme"),
]
