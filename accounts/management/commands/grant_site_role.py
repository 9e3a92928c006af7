"""manage.py grant_site_role: the rights of the role that SITE_DATABASE_URL names; run by the owner, in each release."""

from __future__ import annotations

from typing import Any
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from inspection.foundation import site_role
from inspection.foundation.refusals import Refused


class Command(BaseCommand):
    help = "Grant the site's role in PostgreSQL what the site does, and no more; makes the role when it is not there."

    def handle(self, *args: Any, **options: Any) -> None:
        address = urlsplit(settings.SITE_DATABASE_URL)
        if not address.username:
            if connection.vendor == "postgresql":
                self.stderr.write(
                    "SITE_DATABASE_URL is not set: the site works as the owner of its tables, who can switch their "
                    "triggers off."
                )
            return
        role, password = unquote(address.username), unquote(address.password or "")
        try:
            with transaction.atomic():
                tables = site_role.grant(role, password=password)
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"Role {role} may do what the site does with {tables} tables, and owns none.")
