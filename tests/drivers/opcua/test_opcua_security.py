"""Certificates are pinned, secrets stay secret, and what is asked for is had or refused."""

import asyncio
import logging
import os
import re
import stat
from pathlib import Path

import pytest
from asyncua import ua
from asyncua.crypto.cert_gen import setup_self_signed_certificate
from asyncua.server.user_managers import User, UserRole
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import ExtendedKeyUsageOID

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers.opcua.driver import OpcuaDriver
from linewatch.drivers.opcua.security import (
    APPLICATION_URI,
    Secrets,
    fingerprint,
    secrets_of,
    trusted_certificate,
)
from tests.drivers.opcua.plant import Plant, settings_for

pytestmark = pytest.mark.wire

TAGS = {"nickel-1.temperature": {"node": "s=T"}}
USER, PASSWORD = "linewatch", "gl4nz-Nickel"
NAMES = {"organizationName": "Invented"}


class OnlyOurs:
    """Lets one user in."""

    def get_user(self, _server, username=None, password=None, **_):
        if (username, password) == (USER, PASSWORD):
            return User(role=UserRole.User)
        return None


@pytest.fixture(scope="module")
def pair(tmp_path_factory) -> tuple[Path, Path]:
    """The server's certificate and key."""
    return make_pair(tmp_path_factory.mktemp("server"))


def make_pair(folder: Path, uri: str = "urn:test:server") -> tuple[Path, Path]:
    key, certificate = folder / "key.pem", folder / "cert.der"
    usage = [ExtendedKeyUsageOID.SERVER_AUTH, ExtendedKeyUsageOID.CLIENT_AUTH]
    asyncio.run(setup_self_signed_certificate(key, certificate, uri, "localhost", usage, NAMES))
    return certificate, key


@pytest.fixture(scope="module")
def secured(pair):
    """A server that offers Basic256Sha256 alone and wants a user."""
    certificate, key = pair

    async def prepare(server) -> None:
        await server.set_application_uri("urn:test:server")
        await server.load_certificate(certificate)
        await server.load_private_key(key)
        server.set_security_policy(
            [
                ua.SecurityPolicyType.Basic256Sha256_Sign,
                ua.SecurityPolicyType.Basic256Sha256_SignAndEncrypt,
            ]
        )
        server.iserver.user_manager = OnlyOurs()
        server.set_identity_tokens([ua.UserNameIdentityToken])

    plant = Plant(prepare=prepare)
    plant.add("T", 48.0)
    yield plant
    plant.stop()


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """Let our own certificate be made in a folder of the test's."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("UA_SECRETS", f"{USER}:{PASSWORD}")


def secured_settings(plant: Plant, pair: tuple[Path, Path], **link: str):
    options = {"security": "sign-and-encrypt", "certificate": str(pair[0]), "timeout": "4 s"}
    return settings_for(plant.address, TAGS, **{**options, "secrets": "env:UA_SECRETS", **link})


@pytest.mark.parametrize("security", ["sign", "sign-and-encrypt"])
async def test_a_pinned_server_is_read_with_user_and_password(secured, pair, clock, security):
    settings = secured_settings(secured, pair, security=security)

    async with OpcuaDriver(settings, clock) as driver:
        block = await anext(driver.readings())

    assert (block.value[0], block.quality[0]) == (48.0, Quality.GOOD)


async def test_a_certificate_may_be_pinned_as_pem(secured, pair, clock, tmp_path):
    pem = tmp_path / "server.pem"
    der = x509.load_der_x509_certificate(pair[0].read_bytes())
    pem.write_bytes(der.public_bytes(Encoding.PEM))

    async with OpcuaDriver(secured_settings(secured, pair, certificate=str(pem)), clock) as it:
        assert (await anext(it.readings())).value[0] == 48.0


async def test_another_certificate_is_refused_with_both_fingerprints(
    secured, pair, clock, tmp_path
):
    (tmp_path / "other").mkdir()
    other, _ = await asyncio.to_thread(make_pair, tmp_path / "other")

    with pytest.raises(LinkLost) as raised:
        async with OpcuaDriver(secured_settings(secured, pair, certificate=str(other)), clock):
            raise AssertionError("trusted a stranger")

    assert raised.value.lasting
    assert fingerprint(pair[0].read_bytes()) in raised.value.happened
    assert fingerprint(other.read_bytes()) in raised.value.happened


async def test_a_server_without_the_security_asked_for_is_refused(secured, plant, pair, clock):
    with pytest.raises(LinkLost, match="offers no sign-and-encrypt; it offers None None"):
        async with OpcuaDriver(secured_settings(plant, pair, secrets=None), clock):
            raise AssertionError("went on without security")
    with pytest.raises(
        LinkLost, match="it offers no none; it offers Sign Basic256Sha256, Sign"
    ):
        async with OpcuaDriver(secured_settings(secured, pair, security="none"), clock):
            raise AssertionError("went on without security")


async def test_a_wrong_password_is_told_in_words(secured, pair, clock, monkeypatch):
    monkeypatch.setenv("UA_SECRETS", f"{USER}:wrong")

    with pytest.raises(LinkLost, match="user and password are missing or wrong"):
        async with OpcuaDriver(secured_settings(secured, pair), clock):
            raise AssertionError("let in")


async def test_a_missing_user_is_told_in_words(secured, pair, clock):
    with pytest.raises(LinkLost, match="user and password are missing or wrong"):
        async with OpcuaDriver(secured_settings(secured, pair, secrets=None), clock):
            raise AssertionError("let in")


async def test_a_password_is_never_sent_in_the_clear(pair, clock):
    """A server without security would take it as it is."""

    async def prepare(server) -> None:
        server.set_security_policy([ua.SecurityPolicyType.NoSecurity])
        server.iserver.user_manager = OnlyOurs()
        server.set_identity_tokens([ua.UserNameIdentityToken])

    plant = Plant(prepare=prepare)
    settings = settings_for(
        plant.address, TAGS, security="none", secrets="env:UA_SECRETS", timeout="2 s"
    )
    with pytest.raises(LinkLost, match="it would take the password in the clear"):
        async with OpcuaDriver(settings, clock):
            raise AssertionError("sent it")
    plant.stop()


async def test_nothing_that_is_logged_or_shown_holds_the_secret(secured, pair, clock, caplog):
    with caplog.at_level(logging.DEBUG):
        async with OpcuaDriver(secured_settings(secured, pair), clock) as driver:
            await anext(driver.readings())
            shown = repr(driver.picture())

    assert PASSWORD not in caplog.text
    assert PASSWORD not in shown
    assert PASSWORD not in repr(Secrets(USER, PASSWORD))


async def test_our_own_key_is_its_owners_alone_and_is_kept(secured, pair, clock, tmp_path):
    prints = []
    for _ in range(2):
        async with OpcuaDriver(secured_settings(secured, pair), clock) as driver:
            await anext(driver.readings())
        (key,) = (tmp_path / "data").rglob("own.pem")
        prints.append(fingerprint(key.with_suffix(".der").read_bytes()))
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
        assert stat.S_IMODE(key.parent.stat().st_mode) == 0o700

    assert prints[0] == prints[1]


async def test_a_certificate_of_the_shops_own_is_shown_as_it_is(secured, pair, clock, tmp_path):
    (tmp_path / "ours").mkdir()
    certificate, key = await asyncio.to_thread(make_pair, tmp_path / "ours", APPLICATION_URI)
    before = certificate.read_bytes()
    settings = secured_settings(
        secured, pair, own_certificate=str(certificate), own_key=str(key)
    )

    async with OpcuaDriver(settings, clock) as driver:
        block = await anext(driver.readings())

    assert block.value[0] == 48.0
    assert certificate.read_bytes() == before
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660])
def test_a_file_of_secrets_that_others_can_read_is_refused(tmp_path, mode):
    file = tmp_path / "secrets"
    file.write_text(f"{USER}:{PASSWORD}\n")
    file.chmod(mode)

    with pytest.raises(
        LinkLost, match=r"others may read .*; take their rights away: chmod 600"
    ):
        secrets_of("ua", str(file))


def test_secrets_come_from_an_owners_file_or_the_environment(tmp_path):
    file = tmp_path / "secrets"
    file.write_text(f"{USER}:pass:with:colons\n")
    file.chmod(0o600)

    assert secrets_of("ua", str(file)) == Secrets(USER, "pass:with:colons")
    assert secrets_of("ua", "env:UA_SECRETS") == Secrets(USER, PASSWORD)
    assert secrets_of("ua", None) is None


@pytest.mark.parametrize(
    ("where", "told"),
    [
        ("env:UA_NOT_SET", "UA_NOT_SET is not set in the environment"),
        ("/nowhere/secrets", "cannot be read: No such file or directory"),
        ("env:UA_EMPTY", 'env:UA_EMPTY does not hold "user:password"'),
    ],
)
def test_secrets_that_are_not_there_are_told(monkeypatch, where, told):
    monkeypatch.setenv("UA_EMPTY", "no colon")

    with pytest.raises(LinkLost, match=re.escape(told)):
        secrets_of("ua", where)


def test_a_file_that_is_no_certificate_is_told(tmp_path):
    file = tmp_path / "server.der"
    file.write_bytes(os.urandom(64))

    with pytest.raises(LinkLost, match="holds no certificate"):
        trusted_certificate("ua", str(file))
    with pytest.raises(LinkLost, match="cannot be read"):
        trusted_certificate("ua", str(tmp_path / "none.der"))
