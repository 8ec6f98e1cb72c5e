"""What a server offers, held against what is asked of it, before a secret is sent.

The address stays the configured one: servers announce names that nobody else can resolve.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from asyncua import ua
from asyncua.crypto.security_policies import SecurityPolicyBasic256Sha256

from linewatch.core.errors import LinkLost
from linewatch.drivers.opcua.security import fingerprint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.config.model import LinkSection

_NONE = "http://opcfoundation.org/UA/SecurityPolicy#None"
_WANTED = {
    "none": (ua.MessageSecurityMode.None_, _NONE),
    "sign": (ua.MessageSecurityMode.Sign, SecurityPolicyBasic256Sha256.URI),
    "sign-and-encrypt": (
        ua.MessageSecurityMode.SignAndEncrypt,
        SecurityPolicyBasic256Sha256.URI,
    ),
}
_DOING = "comparing its endpoints with the configuration"


def check_endpoint(
    link: LinkSection,
    endpoints: Sequence[ua.EndpointDescription],
    pinned: bytes | None,
    *,
    has_secrets: bool,
) -> None:
    """Refuse a server that offers too little, shows another certificate, or leaks a password.

    Raises:
        LinkLost: it does.
    """
    mode, policy = _WANTED[link.security]
    fitting = [
        each
        for each in endpoints
        if each.SecurityMode == mode and each.SecurityPolicyUri == policy
    ]
    if not fitting:
        raise _refused(link, f"it offers no {link.security}; it offers {_offered(endpoints)}")
    endpoint = fitting[0]
    if pinned is not None:
        _check_certificate(link, endpoint.ServerCertificate, pinned)
    if has_secrets and _password_is_bare(endpoint):
        happened = "it would take the password in the clear; use security sign-and-encrypt"
        raise _refused(link, happened)


def _refused(link: LinkSection, happened: str) -> LinkLost:
    """Return an error that waiting will not cure: a person must act."""
    return LinkLost(link.id, _DOING, happened, lasting=True)


def _offered(endpoints: Sequence[ua.EndpointDescription]) -> str:
    names = {
        f"{each.SecurityMode.name.rstrip('_')} {str(each.SecurityPolicyUri).rpartition('#')[2]}"
        for each in endpoints
    }
    return ", ".join(sorted(names)) or "nothing"


def _check_certificate(link: LinkSection, shown: bytes | None, pinned: bytes) -> None:
    if shown is None:
        raise _refused(link, "it shows no certificate, but one is pinned")
    # A chain may follow; the server's own certificate stands first.
    if shown[: len(pinned)] != pinned:
        first = shown[: int.from_bytes(shown[2:4], "big") + 4]
        happened = (
            f"it shows certificate {fingerprint(first)}; trusted is {fingerprint(pinned)}"
        )
        raise _refused(link, happened)


def _password_is_bare(endpoint: ua.EndpointDescription) -> bool:
    """Say whether a password would travel unencrypted."""
    if endpoint.SecurityMode == ua.MessageSecurityMode.SignAndEncrypt:
        return False
    policies = [
        token.SecurityPolicyUri or endpoint.SecurityPolicyUri
        for token in endpoint.UserIdentityTokens or ()
        if token.TokenType == ua.UserTokenType.UserName
    ]
    return not policies or policies[0] in (None, "", _NONE)
