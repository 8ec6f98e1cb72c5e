"""How asyncua and the servers behind it report trouble, and what that means in words."""

from __future__ import annotations

import struct

from asyncua import ua
from asyncua.ua.status_codes import StatusCodes
from asyncua.ua.uaerrors import UaError

TROUBLE = (OSError, UaError, ValueError, LookupError, struct.error)
"""What asyncua and the parsers below it raise when a connection or an answer is broken."""

TOO_MANY = frozenset(
    {
        StatusCodes.BadTooManyOperations,
        StatusCodes.BadTooManyMonitoredItems,
        StatusCodes.BadEncodingLimitsExceeded,
        StatusCodes.BadRequestTooLarge,
        StatusCodes.BadResponseTooLarge,
    }
)
"""Answers that ask for a smaller question."""

LASTING = frozenset(
    {
        StatusCodes.BadIdentityTokenInvalid,
        StatusCodes.BadIdentityTokenRejected,
        StatusCodes.BadUserAccessDenied,
        StatusCodes.BadCertificateUntrusted,
        StatusCodes.BadSecurityChecksFailed,
    }
)
"""Answers that waiting will not cure: a person must act, here or at the server."""

_IN_WORDS = {
    StatusCodes.BadIdentityTokenInvalid: "user and password are missing or wrong",
    StatusCodes.BadIdentityTokenRejected: "user and password are missing or wrong",
    StatusCodes.BadUserAccessDenied: "user and password are missing or wrong",
    StatusCodes.BadTooManySessions: (
        "the server has no session left; that of a killed client is free within a minute"
    ),
    StatusCodes.BadSessionIdInvalid: "the server no longer knows the session",
    StatusCodes.BadSessionClosed: "the server closed the session",
    StatusCodes.BadCertificateUntrusted: "the server does not trust our certificate yet",
    StatusCodes.BadSecurityChecksFailed: "the server does not trust our certificate yet",
}


def in_words(code: int) -> str:
    """Return what a status says to a person, its name included."""
    name = ua.StatusCode(ua.UInt32(code)).name
    return f"{_IN_WORDS[code]} ({name})" if code in _IN_WORDS else name
