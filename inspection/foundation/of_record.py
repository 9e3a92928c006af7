"""What is fixed once it is written, declared on the model: `@of_record` for all of a row, or for all but some columns.

The triggers that hold it are made from the declarations after every migration, on PostgreSQL and SQLite alike.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar, overload

from django.db import models

Model = TypeVar("Model", bound=type[models.Model])


@dataclass(frozen=True)
class OfRecord:
    """`may_change`: the columns that a later action sets; every other is fixed. `deletable`: while nothing names it."""

    model: type[models.Model]
    may_change: tuple[str, ...] = ()
    deletable: bool = False

    @property
    def table(self) -> str:
        return self.model._meta.db_table

    @property
    def columns_that_may_change(self) -> tuple[str, ...]:
        columns = {field.name: str(field.column) for field in self.model._meta.concrete_fields}
        return tuple(columns[name] for name in self.may_change)


# In the order of declaration, which is that of the rooms.
DECLARED: list[OfRecord] = []


@overload
def of_record(model: Model) -> Model: ...
@overload
def of_record(*, may_change: tuple[str, ...] = (), deletable: bool = False) -> Callable[[Model], Model]: ...


def of_record(
    model: Model | None = None, *, may_change: tuple[str, ...] = (), deletable: bool = False
) -> Model | Callable[[Model], Model]:
    """Declare a model's rows fixed: no update but of the columns named, no deletion, no emptying of the table."""

    def declare(declared: Model) -> Model:
        DECLARED.append(OfRecord(declared, may_change, deletable))
        return declared

    return declare(model) if model is not None else declare
