"""Signing in by another service: whom it vouches for comes in where the club has an account, and
whatever is wrong, missing, old or played back opens nothing."""

from __future__ import annotations

import base64
import json
import re
import time
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
from authlib.oidc.core import CodeIDToken
from click.testing import CliRunner
from starlette.testclient import TestClient

from feedscript.cli import verbs
from feedscript.club.library.signing import ClubKey
from feedscript.club.people import oidc
from feedscript.club.people.oidc import Oidc, Service, read_service
from feedscript.club.people.pages import elsewhere
from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.elsewhere import COOKIE as OUR_COOKIE
from feedscript.club.people.signing_in import COOKIE, let_in
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.server.serve import pages_of
from feedscript.club.store.people import accounts
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from feedscript.diagnostics import FeedscriptError
from tests.club.library.signed import KEY
from tests.club.people.provider import CLIENT, SECRET, Claims, Key, Provider, b64, provider
from tests.club.people.stage import CHEAP, ORIGIN, Stage
from tests.switched_off import Cut

REFRESH = re.compile(r"0; url=(.*)")


@pytest.fixture(scope="module")
def of_module() -> Iterator[Provider]:
    with provider() as made:
        yield made


@pytest.fixture
def service(of_module: Provider) -> Provider:
    """As it is when it is honest."""
    fresh = Provider(0)
    for name in ("mail", "change", "forgets_codes"):
        setattr(of_module, name, getattr(fresh, name))
    of_module.write = lambda claims: of_module.keys[-1].signed(claims)
    of_module.refusals.clear()
    return of_module


class Browser:
    """One, and the club's server that it looks at."""

    def __init__(self, stage: Stage, service: Provider, secret: str = SECRET) -> None:
        asked = Service(
            issuer=service.url, client_id=CLIENT, client_secret=secret, name="elsewhere"
        )
        self.oidc = Oidc(asked, time.time)
        club = Club(stage.store, stage.desk.who)
        desk = Desk(stage.store, club.who, lambda: stage.now_utc_s, CHEAP, oidc=self.oidc)
        app = make_app(club, ["testserver"], pages_of(club, ClubKey(KEY), desk))
        self.client = TestClient(app, headers={"Origin": ORIGIN}, follow_redirects=False)

    def goes(self) -> str:
        """To the service, where its owner says yes: the address by which it comes back."""
        there = self.client.post("/oidc")
        assert there.status_code == 200, there.text
        found = REFRESH.fullmatch(there.headers["refresh"])
        assert found is not None
        yes = httpx.get(found[1], follow_redirects=False)
        return yes.headers["location"].removeprefix(ORIGIN)

    def signs_in(self) -> httpx.Response:
        return self.client.get(self.goes())

    def __bool__(self) -> bool:
        """Whether somebody is signed in."""
        return self.client.get("/me").status_code == 200


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


@pytest.fixture
def browser(stage: Stage, service: Provider) -> Browser:
    return Browser(stage, service)


def test_whom_the_service_vouches_for_comes_in(browser: Browser, service: Provider) -> None:
    assert "Sign in with elsewhere" in browser.client.get("/").text
    done = browser.signs_in()
    assert done.status_code == 200
    assert done.headers["refresh"] == "0; url=/"
    assert browser
    assert "kim" in browser.client.get("/me").text
    held = [one for one in done.headers.get_list("set-cookie") if one.startswith(f"{COOKIE}=")]
    assert "httponly" in held[0].lower()
    assert "samesite=strict" in held[0].lower()


def test_somebody_invited_who_never_chose_a_password_comes_in_too(
    stage: Stage, browser: Browser, service: Provider
) -> None:
    with stage.store.writing() as connection:
        accounts.make(connection, "max@club.example", "Max", Role.VIEWER, 1.0)
    service.mail = "Max@Club.example"
    browser.signs_in()
    assert browser


@pytest.mark.parametrize("mail", ["stranger@club.example", "", "kim@club.example.evil"])
def test_nobody_comes_in_for_whom_there_is_no_account(
    browser: Browser, service: Provider, mail: str
) -> None:
    service.mail = mail
    assert browser.signs_in().status_code == 403
    assert not browser


def test_a_withdrawn_account_opens_no_more(
    stage: Stage, browser: Browser, service: Provider
) -> None:
    with stage.store.writing() as connection:
        accounts.withdraw(connection, stage.kim.id, stage.now_utc_s)
    assert browser.signs_in().status_code == 403
    assert not browser


def without(name: str) -> Callable[[Claims], Claims]:
    return lambda claims: {key: one for key, one in claims.items() if key != name}


def with_(**other: Any) -> Callable[[Claims], Claims]:
    return lambda claims: {**claims, **other}


@pytest.mark.parametrize(
    "change",
    [
        with_(aud="another-club"),
        with_(aud=[CLIENT, "another-club"]),  # without saying which of them asked
        without("aud"),
        with_(iss="http://127.0.0.1:1"),
        with_(exp=int(time.time()) - 3600, iat=int(time.time()) - 7200),
        without("exp"),
        with_(nonce="another"),
        without("nonce"),
        with_(email_verified=False),
        with_(email_verified="true"),
        without("email_verified"),
        with_(email=["kim@club.example"]),
        with_(azp="another-club"),
        with_(nbf=int(time.time()) + 3600),
    ],
)
def test_what_it_says_must_be_for_us_now_and_of_a_verified_address(
    browser: Browser, service: Provider, change: Callable[[Claims], Claims]
) -> None:
    service.change = change
    assert browser.signs_in().status_code == 403
    assert not browser


def _nothing(*_anything: object) -> None:
    """A protection that is switched off."""


def unsigned(claims: Claims) -> str:
    head = b64(json.dumps({"alg": "none"}).encode())
    return f"{head}.{b64(json.dumps(claims).encode())}."


def changed_behind(service: Provider) -> Callable[[Claims], str]:
    def write(claims: Claims) -> str:
        head, _claims, signature = service.keys[-1].signed({**claims, "email": "x@y.z"}).split(".")
        return f"{head}.{b64(json.dumps(claims).encode())}.{signature}"

    return write


def by_its_public_key(service: Provider) -> Callable[[Claims], str]:
    """An HMAC keyed by what everybody knows: a verifier that lets the token choose takes it."""
    import hashlib
    import hmac

    def write(claims: Claims) -> str:
        head = b64(json.dumps({"alg": "HS256", "kid": "first"}).encode())
        words = f"{head}.{b64(json.dumps(claims).encode())}"
        key = base64.urlsafe_b64decode(service.keys[0].public["n"] + "==")
        return f"{words}.{b64(hmac.new(key, words.encode(), hashlib.sha256).digest())}"

    return write


@pytest.mark.parametrize("forged", ["none", "changed", "another's", "hmac", "no token"])
def test_what_it_says_must_be_signed_by_it(
    browser: Browser, service: Provider, forged: str
) -> None:
    other = Key("first")
    service.write = {
        "none": unsigned,
        "changed": changed_behind(service),
        "another's": other.signed,
        "hmac": by_its_public_key(service),
        "no token": lambda _claims: "no.token",
    }[forged]
    assert browser.signs_in().status_code == 403
    assert not browser


def of_another_state(back: str) -> str:
    """The service's answer, as if it belonged to something that was asked elsewhere."""
    return re.sub("state=[^&]+", "state=another", back)


def unseen(_written: str, *_keys: object, **_how: object) -> SimpleNamespace:
    """What a token says, whoever signed it."""
    head, claims = (
        json.loads(base64.urlsafe_b64decode(part + "==")) for part in _written.split(".")[:2]
    )
    return SimpleNamespace(header=head, claims=claims)


#: Each by a forgery that nothing else keeps out; and what is taken away to switch it off.
PROTECTIONS: dict[str, tuple[Callable[[Claims], Claims], tuple[object, str, object]]] = {
    "issuer": (
        with_(iss="http://127.0.0.1:1"),
        (CodeIDToken.registry_cls, "validate_iss", _nothing),
    ),
    "audience": (
        with_(aud="another-club", azp=CLIENT),
        (CodeIDToken.registry_cls, "validate_aud", _nothing),
    ),
    "party": (
        with_(aud=[CLIENT, "another-club"], azp="another-club"),
        (CodeIDToken, "validate_azp", _nothing),
    ),
    "expiry": (
        lambda claims: {**claims, "exp": time.time() - 3600, "iat": time.time() - 7200},
        (CodeIDToken.registry_cls, "validate_exp", _nothing),
    ),
    "not yet": (
        lambda claims: {**claims, "nbf": time.time() + 3600},
        (CodeIDToken.registry_cls, "validate_nbf", _nothing),
    ),
    "nonce": (with_(nonce="another"), (CodeIDToken, "validate_nonce", _nothing)),
    "signature": (lambda claims: claims, (oidc, "jwt", SimpleNamespace(decode=unseen))),
    "state": (
        lambda claims: claims,
        (elsewhere, "hmac", SimpleNamespace(compare_digest=lambda *_: True)),
    ),
}


@pytest.mark.parametrize("name", PROTECTIONS)
def test_each_protection_alone_keeps_its_forgery_out(
    browser: Browser, service: Provider, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """What opens nothing opens the door once this one protection is switched off."""
    service.change, (where, what, off) = PROTECTIONS[name]
    if name == "signature":
        service.write = changed_behind(service)
    way_back = of_another_state if name == "state" else str
    assert browser.client.get(way_back(browser.goes())).status_code == 403
    assert not browser
    monkeypatch.setattr(where, what, off)
    assert browser.client.get(way_back(browser.goes())).status_code == 200
    assert browser


def comes_unverified(browser: Browser, service: Provider) -> bool:
    """Anybody may write any address into a form of the service's."""
    service.change = with_(email_verified=False)
    return browser.signs_in().status_code == 200


def comes_back_twice(browser: Browser, service: Provider) -> bool:
    """Whoever saw the answer and the cookie plays both back, to a service that lets him."""
    service.forgets_codes = False
    browser.client.cookies.clear()
    back = browser.goes()
    kept = browser.client.cookies.get(OUR_COOKIE)
    browser.client.get(back)
    browser.client.cookies.clear()
    browser.client.cookies.set(OUR_COOKIE, str(kept), path="/oidc")
    return browser.client.get(back).status_code == 200


def comes_from_another_service(browser: Browser, service: Provider) -> bool:
    """A code is carried from one service to the other (RFC 9207, 1: mix-up)."""
    mixed_up = browser.goes().replace("iss=", "iss=http%3A%2F%2Fother")
    return browser.client.get(mixed_up).status_code == 200


def comes_with_anothers_code(browser: Browser, service: Provider) -> bool:
    """Who stole somebody's code brings it with the state of his own browser (RFC 9700, 4.5)."""
    stolen = re.search(r"code=([^&]+)", browser.goes())  # its owner never came back
    assert stolen is not None
    own = re.sub(r"code=[^&]+", stolen[0], browser.goes())
    return browser.client.get(own).status_code == 200


NO_NONCE = Cut(Oidc._mail_in, '"nonce": asked.nonce, ')
NO_PROOF = Cut(Oidc.begin, "verifier=secrets.token_urlsafe(48)", 'verifier="one" * 20')
OFF: dict[str, tuple[Callable[[Browser, Provider], bool], tuple[Cut, ...]]] = {
    "a verified address": (
        comes_unverified,
        (Cut(Oidc._mail_in, ' or claims.get("email_verified") is not True'),),
    ),
    "an answer once": (
        comes_back_twice,
        (Cut(let_in, " or tries.wrong_since(connection, asked, now_utc_s - ASKED_S)"),),
    ),
    "the service that was asked": (
        comes_from_another_service,
        (Cut(elsewhere.comes_back, "issuer != oidc.service.issuer", "False"),),
    ),
    "a proof (PKCE), and the nonce": (comes_with_anothers_code, (NO_PROOF, NO_NONCE)),
}


@pytest.mark.parametrize("name", OFF)
def test_without_a_protection_of_our_own_that_comes_in_which_it_keeps_out(
    browser: Browser, service: Provider, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    attack, cuts = OFF[name]
    assert not attack(browser, service)
    for cut in cuts:
        cut.make(monkeypatch)
    assert attack(browser, service)


@pytest.mark.parametrize("off", [NO_PROOF, NO_NONCE], ids=["nonce", "proof"])
def test_a_stolen_code_is_kept_out_by_either_alone(
    browser: Browser, service: Provider, monkeypatch: pytest.MonkeyPatch, off: Cut
) -> None:
    off.make(monkeypatch)
    assert not comes_with_anothers_code(browser, service)
    assert service.refusals == (["verifier"] if off is NO_NONCE else [])


def test_a_new_key_of_the_service_is_fetched_when_it_comes(
    browser: Browser, service: Provider
) -> None:
    browser.signs_in()
    browser.client.cookies.clear()
    service.keys.append(Key("second"))
    browser.signs_in()
    service.keys.pop()
    assert browser


def test_an_answer_that_is_played_back_opens_nothing(
    stage: Stage, browser: Browser, service: Provider
) -> None:
    """Not even where the service itself gives a code out twice."""
    service.forgets_codes = False
    back = browser.goes()
    kept = browser.client.cookies.get(OUR_COOKIE)
    assert browser.client.get(back).status_code == 200
    browser.client.cookies.clear()
    browser.client.cookies.set(OUR_COOKIE, str(kept), path="/oidc")
    assert browser.client.get(back).status_code == 403
    assert not browser


def test_an_answer_for_another_browser_opens_nothing(
    stage: Stage, browser: Browser, service: Provider
) -> None:
    """Nobody is signed in to an account that a stranger chose for him."""
    strangers = Browser(stage, service).goes()
    assert browser.client.get(strangers).status_code == 403  # it never asked
    browser.goes()
    assert browser.client.get(strangers).status_code == 403
    assert not browser


@pytest.mark.parametrize("query", ["", "?code=x", "?state=x", "?code=x&state=x&error=y"])
def test_half_an_answer_opens_nothing(browser: Browser, query: str) -> None:
    browser.goes()
    assert browser.client.get(f"/oidc/done{query}").status_code == 403


def test_an_answer_of_another_service_is_not_taken(browser: Browser, service: Provider) -> None:
    back = browser.goes()
    mixed_up = back.replace("iss=", "iss=http%3A%2F%2Fother")
    assert browser.client.get(mixed_up).status_code == 403
    assert service.refusals == []  # nobody was asked with the code


def test_the_service_knows_us_by_our_secret_and_the_browser_by_its_proof(
    stage: Stage, browser: Browser, service: Provider
) -> None:
    assert Browser(stage, service, "another secret").signs_in().status_code == 403
    back = browser.goes()
    for asked in service.codes.values():
        asked["code_challenge"] = "another"
    assert browser.client.get(back).status_code == 403
    assert service.refusals == ["client", "verifier"]


@pytest.mark.parametrize("cookie", ["", "AAAA", "%%%", "e30=", "WzFd", "a" * 9000])
def test_a_spoilt_cookie_opens_nothing(browser: Browser, cookie: str) -> None:
    browser.client.cookies.set(OUR_COOKIE, cookie, path="/oidc")
    assert browser.client.get("/oidc/done?code=x&state=").status_code == 403


def test_another_page_sends_nobody_there(browser: Browser) -> None:
    foreign = browser.client.post("/oidc", headers={"Origin": "http://elsewhere"})
    assert foreign.status_code == 403


def test_a_service_that_is_away_is_said_to_be_and_passwords_still_open(stage: Stage) -> None:
    away = Provider(9)
    browser = Browser(stage, away)
    answer = browser.client.post("/oidc")
    assert answer.status_code == 503
    assert "sign in by a password" in unescape(answer.text)
    assert browser.client.get("/").status_code == 200


def test_a_service_of_another_name_is_not_believed(
    stage: Stage, service: Provider, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = {**service.of_itself(), "issuer": "https://elsewhere.example"}
    monkeypatch.setattr(service, "of_itself", lambda: told)
    assert Browser(stage, service).client.post("/oidc").status_code == 503


def test_over_plain_http_no_service_is_believed(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("s\n")
    with pytest.raises(FeedscriptError) as refused:
        read_service("http://id.example", "x", tmp_path / "secret")
    assert refused.value.diagnostic.slug == "club-oidc-unusable"
    known = read_service("https://id.example/club", "x", tmp_path / "secret")
    assert (known.client_secret, known.name) == ("s", "id.example")


@pytest.mark.parametrize(
    ("held", "why"),
    [("s" * 4097, "more than 4096 bytes"), ("s\n" * 4096, "more than"), (" \n", "nothing")],
)
def test_a_file_that_holds_no_secret_is_refused_and_never_cut(
    tmp_path: Path, held: str, why: str
) -> None:
    file = tmp_path / "secret"
    file.write_text(held)
    with pytest.raises(FeedscriptError) as refused:
        read_service("https://id.example", "x", file)
    assert refused.value.diagnostic.slug == "club-oidc-unusable"
    assert why in refused.value.diagnostic.message
    assert refused.value.diagnostic.device == str(file)
    file.write_text("s" * 4096)
    assert read_service("https://id.example", "x", file).client_secret == "s" * 4096


def test_a_club_without_one_has_no_such_place(stage: Stage) -> None:
    browser = stage.browser()
    assert browser.get("/oidc/done").status_code == 404
    assert "Sign in with" not in browser.get("/").text


@pytest.mark.parametrize("words", [["--oidc", "https://id.example"], ["--oidc-client", "x"]])
def test_the_three_options_belong_together(words: list[str]) -> None:
    done = CliRunner().invoke(verbs, ["club", "serve", *words])
    assert done.exit_code == 2
    assert "belong together" in done.output
