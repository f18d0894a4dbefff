"""The server listens where it was asked to, and to others only over https."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.club.server.address import listen_at
from feedscript.console.listening import Certificate
from feedscript.diagnostics import FeedscriptError


def test_it_listens_to_this_machine_and_answers_to_its_names() -> None:
    reached = listen_at("127.0.0.1:0", ["club.example"], None)
    with reached.listening.socket as listener:
        port = listener.getsockname()[1]
        assert reached.url == f"http://club.example:{port}"
        assert reached.names == ("club.example", "127.0.0.1", "localhost")


@pytest.mark.parametrize("bind", ["0.0.0.0:0", "192.0.2.7:8443", "[::]:0", "[2001:db8::1]:443"])
def test_an_address_that_others_reach_needs_a_certificate(bind: str) -> None:
    with pytest.raises(FeedscriptError) as refused:
        listen_at(bind, ["club.example"], None)
    assert refused.value.diagnostic.slug == "club-needs-tls"


def test_every_address_of_the_machine_needs_a_name(
    tmp_path: Path,
) -> None:
    nothing = tmp_path / "none.pem"
    for names, slug in (([], "club-bad-address"), (["club.example"], "bad-certificate")):
        with pytest.raises(FeedscriptError) as refused:
            listen_at("0.0.0.0:0", names, Certificate(nothing, nothing))
        assert refused.value.diagnostic.slug == slug


@pytest.mark.parametrize("bind", ["", "8420", "127.0.0.1", "127.0.0.1:65536", "club.example:80"])
def test_what_is_no_address_is_refused(bind: str) -> None:
    with pytest.raises(FeedscriptError) as refused:
        listen_at(bind, [], None)
    assert refused.value.diagnostic.slug == "club-bad-address"
