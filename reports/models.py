"""The tables of the parts of this room, for Django to find; whoever uses one imports it from its part."""

from reports.attention import models as attention
from reports.daily import models as daily
from reports.papers import models as papers
from reports.questions import models as questions
from reports.work import models as work

__all__ = ["attention", "daily", "papers", "questions", "work"]
