"""Wordings, what is signed with them and how, and what the releases restrict."""

from intake.releases.models.choices import WHILE_CLOSED, Access
from intake.releases.models.restrictions import ClosedPassage, Lifting, NarratorsTurn, Wish, WithdrawalRequest
from intake.releases.models.signed import ON_SCREEN, Agreement, Method, Release
from intake.releases.models.signing import (
    FormState,
    PrintedForm,
    PrivateLink,
    Purpose,
    Scan,
    SignedForm,
    SigningSession,
)
from intake.releases.models.wordings import Basis, Licence, Moment, Wording

__all__ = [
    "ON_SCREEN",
    "WHILE_CLOSED",
    "Access",
    "Agreement",
    "Basis",
    "ClosedPassage",
    "FormState",
    "Licence",
    "Lifting",
    "Method",
    "Moment",
    "NarratorsTurn",
    "PrintedForm",
    "PrivateLink",
    "Purpose",
    "Release",
    "Scan",
    "SignedForm",
    "SigningSession",
    "Wish",
    "WithdrawalRequest",
    "Wording",
]
