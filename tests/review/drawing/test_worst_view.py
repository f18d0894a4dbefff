"""The picture of each rule's worst case."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import msgspec
import pytest

from feedscript.plan.folds.bounds import bounds
from feedscript.plan.scene import Area
from feedscript.review.drawing.files import draw_worst
from feedscript.review.drawing.worst_view import in_runs
from feedscript.safety.certify import certify
from tests.launcher.examples import garage
from tests.review.plans import plan_of

ALLEY = ((-5.49, 0.0), (-4.12, 0.0), (-4.12, 11.89), (-5.49, 11.89))


@pytest.fixture(scope="module")
def words() -> list[str]:
    plan, _ = plan_of(3)
    coach = Area(name="coach", outline_m=ALLEY, height_m=2.0, line=3)
    plan = msgspec.structs.replace(plan, keep_outs=(coach,), bounds=bounds(plan))
    certified = certify(plan, (garage(),))
    certificate = certified.certificate
    drawn = draw_worst(certified.facts, certificate, ".svg", 800)
    assert isinstance(drawn, bytes)
    texts = [e.text or "" for e in ET.fromstring(drawn).iter() if e.tag.endswith("text")]
    rules = [clause.rule for clause in certificate.clauses]
    assert set(rules) <= set(texts), "every rule of the certificate stands in the list"
    return texts


def test_the_rule_about_the_net_is_shown_with_its_feed_and_margin(words) -> None:
    at = words.index("net-clearance")
    assert words[at + 1] == "holds"
    assert "clears the net by" in words[at + 2]
    assert words[at + 3].startswith("limit 0.1 m, margin")


def test_each_number_on_the_court_is_one_of_the_list(words) -> None:
    place = words.index("net-clearance")
    number = words[place - 1]
    assert number.isdigit()
    assert any(number in word.replace("-", " ").split() for word in words[: place - 1])


@pytest.mark.parametrize(
    ("numbers", "text"), [([4, 5, 6, 9], "4-6 9"), ([1], "1"), ([1, 2, 4, 5], "1-2 4-5"), ([], "")]
)
def test_numbers_in_runs(numbers, text) -> None:
    assert in_runs(numbers) == text
