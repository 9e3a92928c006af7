"""How often a secret was guessed at: passwords, codes, links asked for."""

from __future__ import annotations

from django.db import models


class Guesses(models.Model):
    """The tries at one door since the last good one. The key is a keyed digest, so a row tells no address."""

    key = models.CharField(max_length=64, primary_key=True)
    tries = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()
    # The next try is judged from here on.
    free_at = models.DateTimeField()

    class Meta:
        indexes = (models.Index(fields=("last_at",)),)

    def __str__(self) -> str:
        return "a door that was tried"
