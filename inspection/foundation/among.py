"""`pk__among=[…]`: membership in a long list, sent as one parameter, where `in` would send one for each member."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.db.models import ForeignKey, Lookup, UUIDField


@UUIDField.register_lookup
@ForeignKey.register_lookup
class Among(Lookup):
    """Compiled by Django for the database at hand: an array on PostgreSQL, a JSON list elsewhere."""

    lookup_name = "among"
    prepare_rhs = False

    def as_postgresql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        left, params = self.process_lhs(compiler, connection)
        return f"{left} = ANY(%s)", [*params, [UUID(str(pk)) for pk in self.rhs]]

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        left, params = self.process_lhs(compiler, connection)
        listed = json.dumps([UUID(str(pk)).hex for pk in self.rhs])
        return left + " IN (SELECT value FROM json_each(%s))", [*params, listed]  # noqa: S608 - left is a column
