from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction

from tests.sight import world as worlds
from tests.sight.world import World


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: Any) -> Iterator[World]:
    """Built once for a whole module, whose tests roll back what each request changed."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield worlds.build()
        transaction.set_rollback(True)
