"""``python -m tests.reference``: print the table of check values and write docs/reference-checks.md."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import django

from tests.reference.table import all_checks, as_document

DOCUMENT = Path(__file__).parents[2] / "docs" / "reference-checks.md"

if __name__ == "__main__":
    # Some checks go through rows of ours.
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    text = as_document(all_checks())
    DOCUMENT.parent.mkdir(exist_ok=True)
    DOCUMENT.write_text(text, encoding="utf-8")
    sys.stdout.write(text)
