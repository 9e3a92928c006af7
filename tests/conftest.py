from __future__ import annotations

import pytest

from tests import cast as casting


@pytest.fixture
def cast(db: None) -> casting.Cast:
    return casting.cast()
