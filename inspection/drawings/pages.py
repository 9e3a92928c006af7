"""One page of a PDF as a picture. Stands alone and runs as a process of its own, as tables that come in are read.

`python pages.py PAGE LONGEST MEMORY SECONDS`: the file comes in on standard input; out goes a line with the number of
its pages and, where it has the page, a PNG of it. The process takes its limits upon itself first.
"""

from __future__ import annotations

import resource
import sys

import pypdfium2


def draw(content: bytes, page: int, longest: int) -> None:
    """The page so many pixels along its longer side, on white."""
    with pypdfium2.PdfDocument(content) as document:
        sys.stdout.buffer.write(b"%d\n" % len(document))
        if not 1 <= page <= len(document):
            return
        sheet = document[page - 1]
        # Points of 1/72 inch; turned as the file says.
        scale = longest / max(sheet.get_size())
        sheet.render(scale=scale).to_pil().convert("RGB").save(sys.stdout.buffer, "PNG")


if __name__ == "__main__":
    _page, _longest, _memory, _seconds = (int(text) for text in sys.argv[1:])
    resource.setrlimit(resource.RLIMIT_AS, (_memory, _memory))
    resource.setrlimit(resource.RLIMIT_CPU, (_seconds, _seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    draw(sys.stdin.buffer.read(), _page, _longest)
