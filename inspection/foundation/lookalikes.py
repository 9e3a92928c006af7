"""Codes and names that read alike and are not the same: told to whoever enters one, never refused."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable

from django.contrib import messages
from django.http import HttpRequest

# Letters of other scripts that look like Latin ones, and what a label's print does not tell apart. After the
# confusables of Unicode UTS 39, as far as codes and names in Latin script need them; from memory.
SEEN_AS = str.maketrans(
    "АВЕЅІЈКМНОРСТУХаеѕіјорсухһԁԛԝΑΒΕΖΗΙΚΜΝΟΡΤΥΧαοριν‐‑‒–—―−⁃",
    "ABESIJKMHOPCTYXaesijopcyxhdqwABEZHIKMNOPTYXaopiv--------",
)
MOST_TOLD = 3
PRINTED_AS = str.maketrans("01i|", "olll")


def skeleton(text: str) -> str:
    """What is left of a text once everything that reads alike is written in one way; equal for two lookalikes."""
    plain = " ".join(unicodedata.normalize("NFKC", text.translate(SEEN_AS)).translate(SEEN_AS).split())
    return plain.casefold().translate(PRINTED_AS).replace("rn", "m")


def alike(names: Iterable[str], among: Iterable[str]) -> list[tuple[str, str]]:
    """Each of the names with one of the others that reads like it without being it; capitals make no difference."""
    seen: dict[str, dict[str, str]] = defaultdict(dict)
    for other in among:
        seen[skeleton(other)][other.casefold()] = other
    pairs = []
    for name in names:
        others = seen.get(skeleton(name), {})
        pairs += [(name, other) for same, other in sorted(others.items()) if same != name.strip().casefold()][:1]
    return pairs


def tell_alike(request: HttpRequest, names: Iterable[str], among: Iterable[str]) -> None:
    """Warn on the next page of names just entered that can be taken for others."""
    pairs = alike(names, among)
    for name, other in pairs[:MOST_TOLD]:
        messages.warning(
            request, f"“{name}” reads like “{other}” and is not it. If one thing is meant, correct it now."
        )
    if len(pairs) > MOST_TOLD:
        messages.warning(request, f"{len(pairs) - MOST_TOLD} more of these names read like others.")
