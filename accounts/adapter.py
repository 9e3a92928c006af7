from typing import Any

from allauth.account.adapter import DefaultAccountAdapter


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """People come in by invitation only."""

    def is_open_for_signup(self, request: Any) -> bool:
        return False
