"""What an answer says, in whatever form it comes: headers, page, JSON, calendar, PDF, and each part of a ZIP."""

from __future__ import annotations

import io
import re
import subprocess
import zipfile

from django.http import HttpResponse


def words_of(answer: HttpResponse) -> str:
    headers = "\n".join(f"{name}: {value}" for name, value in answer.headers.items())
    return f"{headers}\n{words_in(answer.content)}"


def words_in(content: bytes) -> str:
    if content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return "\n".join(f"{name}\n{words_in(archive.read(name))}" for name in archive.namelist())
    text = content.decode("utf-8", "replace")
    if content.startswith(b"%PDF"):
        read = subprocess.run(["pdftotext", "-", "-"], input=content, capture_output=True, check=False)
        return text + read.stdout.decode("utf-8", "replace")
    # A calendar folds its lines.
    return re.sub(r"\r\n[ \t]", "", text)
