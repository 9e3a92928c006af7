"""Forms turn what was typed into typed values; the actions judge them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from allauth.account.forms import LoginForm, ReauthenticateForm, ResetPasswordForm, ResetPasswordKeyForm
from allauth.mfa.base import forms as mfa
from allauth.mfa.base.forms import AuthenticateForm
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.mfa.webauthn.forms import (
    AddWebAuthnForm,
    AuthenticateWebAuthnForm,
    EditWebAuthnForm,
    ReauthenticateWebAuthnForm,
)
from django import forms
from django.contrib import messages
from django.db import transaction
from django.forms.fields import InvalidJSONInput
from django.http import HttpRequest, HttpResponse, QueryDict

from accounts import factors, guessing, journal, tidings
from accounts.actions import HIGH_ROLES, TOKEN_MOST_DAYS
from accounts.models import Organisation, Person, Qualification, Role, Scheme
from accounts.qualifying import LONGEST_REASON
from accounts.sessions import IDLE_STAYING, LONGEST
from inspection.foundation.form_fields import set_up
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.foundation.text import line

CHOOSE_WELL = (
    "At least 12 characters; not a common one, not only digits, without your name or address and without the names of "
    "the platform, the company and organisations."
)


def carried_out(form: forms.Form, act: Callable[[dict[str, Any]], Any]) -> bool:
    """Run the action with the form's values; what it refuses is shown in the form. True when it was done."""
    if not form.is_bound or not form.is_valid():
        return False
    try:
        act(form.cleaned_data)
    except NotAllowed:
        raise
    except Refused as refusal:
        for fault in refusal.faults:
            form.add_error(fault.field if fault.field in form.fields else None, fault.message)
        return False
    return True


def answered(
    request: HttpRequest, form: forms.Form, act: Callable[[dict[str, Any]], Any], *, told: str, then: HttpResponse,
    again: Callable[[], HttpResponse],
) -> HttpResponse:  # fmt: skip
    """Do what the form asks, tell of it and go on; or show the page again with what is wrong in the form."""
    if not carried_out(form, act):
        return again()
    messages.success(request, told)
    return then


def sent(request: HttpRequest) -> QueryDict | None:
    """What the form was sent with; None when the page is only looked at."""
    return request.POST if request.method == "POST" else None


def status_of(form: forms.Form) -> int:
    """The status of a page that shows the form: 422 while something in it is not right."""
    return 422 if form.errors else 200


# --- sign-in ----------------------------------------------------------------------------------------------------------


class SignIn(LoginForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "login", "E-mail address")
        _say(self, "password", "Password")
        _say(
            self, "remember",
            f"Stay signed in on this device: for {LONGEST.days} days at most, {IDLE_STAYING.days} without use",
        )  # fmt: skip


class AskReset(ResetPasswordForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "email", "E-mail address")

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        if "email" in values:
            pause = guessing.take(guessing.reset_of(values["email"]))
            if pause is not None:
                raise forms.ValidationError(
                    f"A link was asked for too often. Look into your mail, or wait {guessing.in_words(pause)}."
                )
        return values


class ChooseReset(ResetPasswordKeyForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "password1", "New password", CHOOSE_WELL)
        _say(self, "password2", "New password again")


def _say(form: forms.Form, name: str, label: str, hint: str = "") -> None:
    field = form.fields[name]
    field.label, field.help_text = label, hint
    field.widget.attrs.pop("placeholder", None)


class StillYou(ReauthenticateForm):
    """The password again, before a deed that reaches far."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "password", "Password")

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        try:
            guessing.confirm_password(self.user, password, to="show that it is still they", so="nothing was done")
        except Refused as refusal:
            raise forms.ValidationError([fault.message for fault in refusal.faults]) from None
        return password


class _Code(forms.Form):
    """A code of the authenticator app, or a recovery code. Each try is counted before it is looked at."""

    user: Person
    authenticator: Authenticator

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "code", "Code")

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        door = guessing.factor_of(self.user)
        pause = guessing.take(door)
        if pause is not None:
            raise forms.ValidationError(f"Too many wrong codes. Wait {guessing.in_words(pause)}, then try again.")
        for row in Authenticator.objects.filter(user=self.user).exclude(type=Authenticator.Type.WEBAUTHN):
            if factors.code_is_good(row, code):
                guessing.forget(door)
                self.authenticator = row
                return code
        with transaction.atomic():
            journal.record("factor.wrong", self.user, by=None)
        raise forms.ValidationError(factors.Factors.error_messages["incorrect_code"])


class CodeAtSignIn(_Code, AuthenticateForm):
    pass


class CodeAgain(_Code, mfa.ReauthenticateForm):
    pass


class NewApp(ActivateTOTPForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "code", "Code that the app shows")


class _Answer(forms.JSONField):
    """What a browser's authenticator answered; what only looks like JSON is a wrong answer."""

    def __init__(self) -> None:
        super().__init__(widget=forms.HiddenInput)

    def to_python(self, value: Any) -> Any:
        try:
            return super().to_python(value)
        except (ValueError, RecursionError):  # an integer of thousands of digits, or a list within thousands of lists
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid", params={"value": ""}) from None

    def bound_data(self, data: Any, initial: Any) -> Any:
        """Never shown again: the device answers anew."""
        return InvalidJSONInput("")


class PasskeyAtSignIn(AuthenticateWebAuthnForm):
    credential = _Answer()


class PasskeyAgain(ReauthenticateWebAuthnForm):
    credential = _Answer()


class NewPasskey(AddWebAuthnForm):
    credential = _Answer()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "name", "Name", "By which you tell it from others, such as the device")
        self.fields["name"].max_length = 60


class RenamePasskey(EditWebAuthnForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, "name", "Name")

    def clean_name(self) -> str:
        try:
            return line(self.cleaned_data["name"], field="name", most=60)
        except Refused as refusal:
            raise forms.ValidationError([fault.message for fault in refusal.faults]) from None


class FactorDemand(forms.Form):
    roles = forms.MultipleChoiceField(
        label="Roles", choices=Role.choices, required=False, widget=forms.CheckboxSelectMultiple
    )


def _password(label: str, *, of_now: bool = False, help_text: str = "") -> forms.CharField:
    """A password as it is typed, spaces and all; `of_now` is one that a device may fill in."""
    filled_in = "current-password" if of_now else "new-password"
    return forms.CharField(
        label=label, max_length=200, strip=False, help_text=help_text,
        widget=forms.PasswordInput(attrs={"autocomplete": filled_in}),
    )  # fmt: skip


class NewPassword(forms.Form):
    """A password typed twice."""

    password = _password("Password", help_text=CHOOSE_WELL)
    again = _password("Password again")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if "password" in values and "again" in values and values["password"] != values.pop("again"):
            self.add_error("again", "The two passwords differ.")
        return values


class FoundCompany(NewPassword):
    company = forms.CharField(label="Name of the inspection company", max_length=120)
    name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    email = forms.EmailField(
        label="Your e-mail address", max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )
    code = forms.CharField(
        label="Code",
        max_length=60,
        help_text="As shown where the site was started. It proves that you run this machine.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    field_order = ("company", "name", "email", "password", "again", "code")


class ChangePassword(forms.Form):
    old = _password("Password you have now", of_now=True)
    new = _password("New password", help_text=CHOOSE_WELL)
    again = _password("New password again")

    keep = forms.BooleanField(
        label="Keep my API tokens and calendar links",
        required=False,
        help_text="Leave it empty if somebody else may know your old password: they all end with it then.",
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if "new" in values and "again" in values and values["new"] != values.pop("again"):
            self.add_error("again", "The two passwords differ.")
        return values


class NewToken(forms.Form):
    name = forms.CharField(label="Name", max_length=80, help_text="What will use it, such as “gauge upload, laptop 3”")
    days = forms.IntegerField(label="Good for how many days", initial=90, min_value=1, max_value=TOKEN_MOST_DAYS)


# --- people -----------------------------------------------------------------------------------------------------------


def _roles_for(by: Person) -> list[tuple[str, str]]:
    return [(role.value, role.label) for role in Role if role not in HIGH_ROLES or by.has_role(Role.ADMINISTRATOR)]


class Invite(forms.Form):
    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail address", max_length=254)
    organisation = forms.ModelChoiceField(Organisation.objects, label="Organisation", empty_label="Choose")
    role = forms.ChoiceField(label="Role")

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "role", choices=[("", "Choose"), *_roles_for(by)])


class NewOrganisation(forms.Form):
    name = forms.CharField(label="Name", max_length=120)
    kind = forms.ChoiceField(
        label="Kind",
        choices=[choice for choice in Organisation.Kind.choices if choice[0] != Organisation.Kind.COMPANY],
    )


class Rename(forms.Form):
    name = forms.CharField(label="Name", max_length=120)
    reason = forms.CharField(label="Why", max_length=1_000, help_text="The journal keeps it.")


class TurnAway(forms.Form):
    reason = forms.CharField(label="Why", max_length=300, help_text="The journal keeps it.")


class GiveRole(forms.Form):
    role = forms.ChoiceField(label="Role")

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "role", choices=_roles_for(by))


class NewQualification(forms.Form):
    scheme = forms.ModelChoiceField(
        Scheme.objects.none(), label="Scheme", empty_label="Choose", help_text="Who certifies, and as what"
    )
    level = forms.CharField(label="Level", max_length=60, required=False)
    number = forms.CharField(label="Certificate number", max_length=60)
    issued = forms.DateField(label="Issued", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    expires = forms.DateField(
        label="Expires", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    never = forms.BooleanField(label="It never runs out", required=False)

    def __init__(self, *args: Any, paper: Qualification | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        schemes = Scheme.objects.filter(retired_at=None)
        if paper:
            schemes = schemes | Scheme.objects.filter(pk=paper.scheme_id)
        set_up(self, "scheme", queryset=schemes)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        never = values.pop("never", False)
        if "expires" not in self.errors and never == bool(values.get("expires")):
            both = "Give a day, or tick that it never runs out; not both."
            self.add_error("expires", both if never else "Give the day it expires, or tick that it never runs out.")
        return values


class CorrectQualification(NewQualification):
    reason = forms.CharField(
        label="What was wrong", max_length=LONGEST_REASON, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Kept in the journal with what it said before",
    )  # fmt: skip

    def __init__(self, data: Any = None, *, paper: Qualification) -> None:
        names = ("scheme", "level", "number", "issued", "expires")
        initial = {name: getattr(paper, name) for name in names} | {"never": paper.expires is None}
        super().__init__(data, paper=paper, initial=initial)


class WithdrawQualification(forms.Form):
    reason = forms.CharField(
        label="Why it is withdrawn", max_length=LONGEST_REASON, widget=forms.Textarea(attrs={"rows": 2})
    )


class NewScheme(forms.Form):
    name = forms.CharField(label="Scheme", max_length=120, help_text="Who certifies, and as what")


class ChangeScheme(NewScheme):
    retired = forms.BooleanField(
        label="Off the list",
        required=False,
        help_text="For new papers; those under it stay, and so do projects' wishes",
    )


def signature() -> forms.CharField:
    return forms.CharField(
        label="Your password, as your signature",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class LetterChoices(forms.Form):
    """One row of ways for each kind of thing that is told."""

    def __init__(self, *args: Any, ways: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind in tidings.KINDS:
            self.fields[kind.name] = forms.ChoiceField(
                label=kind.words, choices=tidings.Way.choices, initial=ways[kind.name], widget=forms.RadioSelect
            )

    def ways(self) -> dict[str, str]:
        return dict(self.cleaned_data)
