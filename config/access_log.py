"""The web server's log, without the secrets that some addresses carry (also where one comes as a Referer)."""

from __future__ import annotations

from typing import Any

from gunicorn.glogging import Logger

from accounts.masking import MaskedRecords, masked


class MaskedLog(Logger):
    def setup(self, cfg: Any) -> None:
        super().setup(cfg)
        self.error_log.addFilter(MaskedRecords())

    def atoms(self, resp: Any, req: Any, environ: Any, request_time: Any) -> dict[str, Any]:
        """What a line of the access log is put together from."""
        found = super().atoms(resp, req, environ, request_time)
        return {name: masked(value) if isinstance(value, str) else value for name, value in found.items()}
