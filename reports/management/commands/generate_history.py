"""Adds a long invented history, to measure the platform against."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from reports.demo.history import generate


class Command(BaseCommand):
    help = "Add an invented history of N readings with everything under and over them, at the speed of COPY."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--readings", type=int, required=True, help="how many readings at least")
        parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same history")

    def handle(self, *args: Any, **options: Any) -> None:
        counts = generate(options["readings"], options["seed"], say=self.stdout.write)
        self.stdout.write(", ".join(f"{count:,} {what}" for what, count in counts.items()))
