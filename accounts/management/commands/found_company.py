"""manage.py found_company: the inspection company and its first administrator, who then invites the others."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts.actions import found_company
from inspection.foundation.refusals import Refused


class Command(BaseCommand):
    help = "Found the inspection company and its first administrator. The password is asked for, or read from a pipe."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--company", required=True, help="Name of the inspection company")
        parser.add_argument("--email", required=True, help="E-mail address of the first administrator")
        parser.add_argument("--name", required=True, help="Their name")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            founder = found_company(
                company=options["company"], email=options["email"], name=options["name"], password=self._password()
            )
        except Refused as refusal:
            raise CommandError("\n".join(str(fault) for fault in refusal.faults)) from refusal
        self.stdout.write(f"{founder.organisation} stands; {founder.name} signs in as {founder.email}.")

    def _password(self) -> str:
        if not sys.stdin.isatty():
            return sys.stdin.readline().rstrip("\n")
        password = getpass.getpass("Password: ")
        if password != getpass.getpass("Password again: "):
            raise CommandError("The two passwords differ.")
        return password
