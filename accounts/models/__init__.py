from accounts.models.factors import FactorRule
from accounts.models.files import StoredFile
from accounts.models.guessing import Guesses
from accounts.models.journal import ChainLink, JournalEntry
from accounts.models.people import Invitation, Organisation, Person, Qualification, Role, RoleGrant, Scheme
from accounts.models.post import Letter, PostChoice, Tiding
from accounts.models.site import Installation
from accounts.models.tokens import ApiToken

__all__ = [
    "ApiToken",
    "ChainLink",
    "FactorRule",
    "Guesses",
    "Installation",
    "Invitation",
    "JournalEntry",
    "Letter",
    "Organisation",
    "Person",
    "PostChoice",
    "Qualification",
    "Role",
    "RoleGrant",
    "Scheme",
    "StoredFile",
    "Tiding",
]
