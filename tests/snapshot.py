"""What many tests begin with, built once by the models and then put back as it was: its rows and its objects."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import Any

from django.db import connection, models, transaction
from django.db.models.signals import post_save
from django.db.models.sql import InsertQuery

Statement = tuple[str, tuple[Any, ...]]


class Snapshot:
    """The rows that `build` makes, as statements that add them again, and what it returns, as bytes."""

    def __init__(self, build: Callable[[], Any]) -> None:
        made: dict[type[models.Model], list[Any]] = {}

        def note(sender: type[models.Model], instance: models.Model, created: bool, **_: Any) -> None:
            if created:
                made.setdefault(sender, []).append(instance.pk)

        post_save.connect(note)
        try:
            with transaction.atomic():
                self._built = pickle.dumps(build())
                self._statements = [each for model, keys in made.items() for each in _adding(model, keys)]
                # Its ids stay taken: no later row is given one of them.
                transaction.set_rollback(True)
        finally:
            post_save.disconnect(note)

    def laid(self) -> Any:
        """Add the rows to the database of the moment; a copy of what `build` returned, of the test's own."""
        with transaction.atomic(), connection.cursor() as cursor:
            for sql, params in self._statements:
                cursor.execute(sql, params)
        return pickle.loads(self._built)


def _adding(model: type[models.Model], keys: list[Any]) -> list[Statement]:
    """One statement that adds all the rows, as they are now, with their ids."""
    rows = list(model._base_manager.filter(pk__in=keys).order_by("pk"))
    query = InsertQuery(model)
    # As they were stored: what a column fills in by itself when it is saved is filled in already.
    query.insert_values(model._meta.concrete_fields, rows, raw=True)
    found: list[Statement] = query.get_compiler(connection=connection).as_sql()
    return found
