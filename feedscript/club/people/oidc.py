"""Signing in by another service that knows the person: OpenID Connect Core 1.0 (2014), the code
flow (3.1), with PKCE (RFC 7636), state and nonce.

The service vouches for an address of mail; whoever it is let in is the account that signs in by
that address, and nobody else: an account is made by the head coach alone.
"""

from __future__ import annotations

import base64
import secrets
import time
import warnings
from collections.abc import Callable
from ipaddress import ip_address
from pathlib import Path
from threading import Lock
from typing import Any
from urllib.parse import urlsplit

import httpx
import msgspec
from authlib.deprecate import AuthlibDeprecationWarning
from authlib.integrations.base_client import OAuthError
from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from feedscript.club.refusals import OIDC_UNUSABLE
from feedscript.diagnostics import FeedscriptError
from feedscript.plain_file import read_plain

with warnings.catch_warnings():
    # It says so to everybody's terminal, `feedscript why` and completion too, that it would rather
    # have a successor of httpx: nothing that whoever types there can mend.
    warnings.simplefilter("ignore", AuthlibDeprecationWarning)
    from authlib.integrations.httpx_client import OAuth2Client

#: Where the service sends the browser back to.
DONE = "/oidc/done"
#: What signs an identity: never a secret that both know, and never nothing.
ALGORITHMS = ("RS256", "PS256", "ES256", "EdDSA", "Ed25519")
#: So long the service is waited for; what it says of itself is believed for so long, s; and its
#: clock may differ by so much, s. Design values.
PATIENCE_S, BELIEVED_S, LEEWAY_S = 10.0, 3600.0, 60
#: No service gives a longer one: a longer file is another. Design value.
MOST_SECRET_BYTES = 4096


class Service(msgspec.Struct, frozen=True, kw_only=True):
    """Another service, and what we are to it. ``name`` is shown."""

    issuer: str
    client_id: str
    client_secret: str
    name: str


class NotVouchedError(Exception):
    """The service does not vouch for anybody so; why, for whoever looks after the server."""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What a browser keeps while its owner is at the service."""

    state: str
    nonce: str
    verifier: str
    back: str  # where the service is to send the browser

    @property
    def cookie(self) -> str:
        return base64.urlsafe_b64encode(msgspec.json.encode(self)).decode()


def asked_in(cookie: str) -> Asked | None:
    """What the cookie holds; None for none of ours."""
    try:
        return msgspec.json.decode(base64.urlsafe_b64decode(cookie), type=Asked)
    except (ValueError, msgspec.MsgspecError, RecursionError):
        return None


class _Said(msgspec.Struct, frozen=True, kw_only=True):
    """What a service says of itself (OpenID Connect Discovery 1.0, 3)."""

    issuer: str
    authorization_endpoint: str
    token_endpoint: str
    jwks_uri: str


def read_service(issuer: str, client_id: str, secret: Path) -> Service:
    """A service with the secret that lies in a file. Raises FeedscriptError for a file that cannot
    be read, and for an address whose answers anybody on the way could write."""
    _see_https(issuer)
    try:
        held = read_plain(secret, MOST_SECRET_BYTES)
        told = held.decode("utf-8").strip()
    except (OSError, UnicodeDecodeError) as trouble:
        raise _no_secret(secret, f"the service's secret cannot be read: {trouble}") from trouble
    if not told or len(held) > MOST_SECRET_BYTES:
        holds = f"more than {MOST_SECRET_BYTES} bytes" if told else "nothing"
        raise _no_secret(secret, f"the file of the service's secret holds {holds}")
    machine = urlsplit(issuer).hostname or issuer
    return Service(issuer=issuer, client_id=client_id, client_secret=told, name=machine)


def _no_secret(file: Path, why: str) -> FeedscriptError:
    return FeedscriptError(
        OIDC_UNUSABLE.report(
            why,
            device=str(file),
            help="name a file with the secret alone that the service gave this server",
        )
    )


def _see_https(url: str) -> None:
    parts = urlsplit(url)
    if parts.scheme == "https" or (parts.scheme == "http" and _is_here(parts.hostname or "")):
        return
    raise FeedscriptError(
        OIDC_UNUSABLE.report(
            f"{url!r} is none of https://…", help="give the service's address as it writes it"
        )
    )


def _is_here(machine: str) -> bool:
    try:
        return machine == "localhost" or ip_address(machine).is_loopback
    except ValueError:
        return False


class Oidc:
    """One service. From any thread; each method asks it over the network."""

    def __init__(
        self,
        service: Service,
        utc_s: Callable[[], float] = time.time,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self.service = service
        self._utc_s = utc_s
        self._transport = transport
        self._lock = Lock()
        self._known: tuple[float, _Said, KeySet] | None = None

    def begin(self, base: str) -> tuple[str, Asked]:
        """Where the browser goes from this server's ``base``, and what it keeps meanwhile. Raises
        FeedscriptError."""
        said, _keys = self._of_itself()
        asked = Asked(
            state=secrets.token_urlsafe(32),
            nonce=secrets.token_urlsafe(32),
            verifier=secrets.token_urlsafe(48),
            back=f"{base}{DONE}",
        )
        with self._client(asked) as client:
            url, _state = client.create_authorization_url(
                said.authorization_endpoint,
                state=asked.state,
                code_verifier=asked.verifier,
                nonce=asked.nonce,
            )
        return str(url), asked

    def vouched_for(self, asked: Asked, code: str) -> str:
        """The address of mail that the service vouches for. Raises NotVouchedError, and
        FeedscriptError where it cannot be asked."""
        said, keys = self._of_itself()
        try:
            with self._client(asked) as client:
                token = client.fetch_token(
                    said.token_endpoint,
                    grant_type="authorization_code",
                    code=code,
                    code_verifier=asked.verifier,
                )
        except OAuthError as refused:
            raise NotVouchedError(f"it refuses the code: {refused.error}") from None
        except (httpx.HTTPError, ValueError) as trouble:
            raise _unusable(self.service, trouble) from trouble
        return self._mail_in(token, asked, said, keys)

    def _mail_in(self, token: Any, asked: Asked, said: _Said, keys: KeySet) -> str:
        written = token.get("id_token") if isinstance(token, dict) else None
        if not isinstance(written, str):
            raise NotVouchedError("it says nothing of who that is")
        try:
            try:
                read = jwt.decode(written, keys, algorithms=ALGORITHMS)
            except (JoseError, ValueError):  # it may sign with a new key
                read = jwt.decode(written, self._of_itself(anew=True)[1], algorithms=ALGORITHMS)
            options = {
                "iss": {"essential": True, "value": said.issuer},
                "aud": {"essential": True, "value": self.service.client_id},
            }
            params = {"nonce": asked.nonce, "client_id": self.service.client_id}
            params["access_token"] = token.get("access_token")
            claims = CodeIDToken(read.claims, read.header, options, params)
            claims.validate(now=int(self._utc_s()), leeway=LEEWAY_S)
        except (JoseError, ValueError, TypeError) as wrong:
            raise NotVouchedError(f"what it says cannot be believed: {wrong}") from None
        mail = claims.get("email")
        if not isinstance(mail, str) or not mail or claims.get("email_verified") is not True:
            raise NotVouchedError("it does not say that an address of mail is that person's")
        return mail

    def _client(self, asked: Asked) -> OAuth2Client:
        return OAuth2Client(
            client_id=self.service.client_id,
            client_secret=self.service.client_secret,
            scope="openid email",
            redirect_uri=asked.back,
            code_challenge_method="S256",
            **self._over(),
        )

    def _over(self) -> dict[str, Any]:
        return {"timeout": PATIENCE_S, "trust_env": False, "transport": self._transport}

    def _of_itself(self, *, anew: bool = False) -> tuple[_Said, KeySet]:
        with self._lock:
            now_s = self._utc_s()
            if anew or self._known is None or now_s - self._known[0] > BELIEVED_S:
                self._known = (now_s, *self._fetched())
            return self._known[1:]

    def _fetched(self) -> tuple[_Said, KeySet]:
        issuer = self.service.issuer.rstrip("/")
        try:
            with httpx.Client(**self._over()) as client:
                told = client.get(f"{issuer}/.well-known/openid-configuration").raise_for_status()
                said = msgspec.json.decode(told.content, type=_Said)
                if said.issuer != self.service.issuer:
                    raise ValueError(f"it calls itself {said.issuer!r}")
                for one in (said.authorization_endpoint, said.token_endpoint, said.jwks_uri):
                    _see_https(one)
                keys = client.get(said.jwks_uri).raise_for_status().json()
            return said, KeySet.import_key_set(keys)
        except (httpx.HTTPError, msgspec.MsgspecError, ValueError, KeyError, JoseError) as trouble:
            raise _unusable(self.service, trouble) from trouble


def _unusable(service: Service, trouble: Exception) -> FeedscriptError:
    return FeedscriptError(
        OIDC_UNUSABLE.report(
            f"{service.issuer} cannot be asked who somebody is: {trouble}",
            help="sign in by a password, or try again later",
        )
    )
