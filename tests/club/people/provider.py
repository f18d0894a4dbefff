"""A small OpenID Connect service of the tests' own, on a socket of this machine: it shares no code
with what asks it, and misbehaves on request."""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import padding, rsa

CLIENT, SECRET = "the-club", "between us two"
Claims = dict[str, Any]


def b64(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


class Key:
    """One that signs."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._private = rsa.generate_private_key(public_exponent=65537, key_size=2048)

    @property
    def public(self) -> dict[str, str]:
        numbers = self._private.public_key().public_numbers()
        size = (numbers.n.bit_length() + 7) // 8
        n, e = b64(numbers.n.to_bytes(size, "big")), b64(numbers.e.to_bytes(3, "big"))
        return {"kty": "RSA", "use": "sig", "alg": "RS256", "kid": self.name, "n": n, "e": e}

    def signed(self, claims: Claims) -> str:
        head = b64(json.dumps({"alg": "RS256", "kid": self.name}).encode())
        words = f"{head}.{b64(json.dumps(claims).encode())}"
        made = self._private.sign(words.encode(), padding.PKCS1v15(), hashes.SHA256())
        return f"{words}.{b64(made)}"


class Provider:
    """Knows one person. ``change`` may alter what it says of somebody; ``write`` how it signs."""

    def __init__(self, port: int) -> None:
        self.url = f"http://127.0.0.1:{port}"
        self.keys = [Key("first")]
        self.mail = "kim@club.example"
        self.change: Callable[[Claims], Claims] = lambda claims: claims
        self.write: Callable[[Claims], str] = lambda claims: self.keys[-1].signed(claims)
        self.codes: dict[str, dict[str, str]] = {}
        self.refusals: list[str] = []
        self.forgets_codes = True

    def of_itself(self) -> dict[str, str]:
        return {
            "issuer": self.url,
            "authorization_endpoint": f"{self.url}/authorize",
            "token_endpoint": f"{self.url}/token",
            "jwks_uri": f"{self.url}/keys",
        }

    def authorize(self, asked: dict[str, str]) -> str:
        """The person says yes: where the browser goes back to."""
        assert asked["response_type"] == "code"
        assert asked["client_id"] == CLIENT
        assert asked["code_challenge_method"] == "S256"
        assert {"openid", "email"} <= set(asked["scope"].split())
        code = secrets.token_urlsafe(16)
        self.codes[code] = asked
        query = urlencode({"code": code, "state": asked["state"], "iss": self.url})
        return f"{asked['redirect_uri']}?{query}"

    def token(self, who: str, told: dict[str, str]) -> tuple[int, dict[str, Any]]:
        asked = self.codes.pop(told["code"], None)
        if asked is not None and not self.forgets_codes:
            self.codes[told["code"]] = asked
        why = self._wrong(who, told, asked)
        if why or asked is None:
            self.refusals.append(why)
            return 400, {"error": "invalid_grant"}
        now = int(time.time())
        claims = {
            "iss": self.url,
            "sub": "7",
            "aud": CLIENT,
            "iat": now,
            "exp": now + 300,
            "nonce": asked["nonce"],
            "email": self.mail,
            "email_verified": True,
        }
        token = self.write(self.change(claims))
        return 200, {"access_token": "unused", "token_type": "Bearer", "id_token": token}

    def _wrong(self, who: str, told: dict[str, str], asked: dict[str, str] | None) -> str:
        proof = b64(hashlib.sha256(told.get("code_verifier", "").encode()).digest())
        if who != f"{CLIENT}:{SECRET}":
            return "client"
        if asked is None:
            return "code"
        if proof != asked["code_challenge"]:
            return "verifier"
        return "" if told["redirect_uri"] == asked["redirect_uri"] else "redirect"


@contextmanager
def provider() -> Iterator[Provider]:
    """It answers inside the context."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked = {key: one[0] for key, one in parse_qs(urlsplit(self.path).query).items()}
            path = urlsplit(self.path).path
            if path == "/authorize":
                self.send_response(302)
                self.send_header("Location", made.authorize(asked))
                self.end_headers()
            elif path == "/keys":
                self._json(200, {"keys": [key.public for key in made.keys]})
            else:
                self._json(200, made.of_itself())

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            told = {key: one[0] for key, one in parse_qs(body).items()}
            who = base64.b64decode(self.headers["Authorization"].partition(" ")[2]).decode()
            self._json(*made.token(who, told))

        def _json(self, status: int, said: dict[str, Any]) -> None:
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.end_headers()
            self.wfile.write(json.dumps(said).encode())

        def log_message(self, *_args: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    made = Provider(server.server_port)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), name="provider")
    thread.start()
    try:
        yield made
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
