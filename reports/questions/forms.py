from __future__ import annotations

from django import forms

from inspection.fieldwork.storing import LONGEST_NOTE
from reports.questions.models import ReadingAnswer, ReadingQuestion


class AnswerQuestion(forms.Form):
    outcome = forms.ChoiceField(
        label="What became of it", choices=ReadingAnswer.Outcome.choices, widget=forms.RadioSelect
    )
    text = forms.CharField(
        label="What explains it, or what is done about it", max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="It stays readable to quality managers, and to nobody else. An answer given by mistake is "
        "followed by another; open it again with the reason.",
    )  # fmt: skip

    def __init__(self, *args: object, question: ReadingQuestion, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # handed on as they are
        field = self.fields["outcome"]
        if question.state == ReadingQuestion.State.OPEN and isinstance(field, forms.ChoiceField):
            field.choices = [each for each in ReadingAnswer.Outcome.choices if each[0] != ReadingAnswer.Outcome.OPEN]
