"""The form of a calendar link."""

from django import forms


class NewCalendarLink(forms.Form):
    name = forms.CharField(label="Name", max_length=60, help_text="Where it is read, such as “phone” or “office”")
