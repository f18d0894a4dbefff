"""Every unsafe plan is refused with its slug, and its nearest safe twin passes."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Severity
from feedscript.plan.certificate import Standing
from feedscript.safety.analysis.apply_rules import CRASHED
from feedscript.safety.certificate import verify
from feedscript.safety.certify import certify
from feedscript.safety.examples import example, fed
from feedscript.safety.rules import RULES
from tests.safety.plan_cases import CASES, GUIDES, PlanCase


def named(case: PlanCase) -> str:
    return f"{case.slug}: {case.name}"


@pytest.mark.parametrize("case", CASES, ids=named)
def test_unsafe_plan_is_refused_for_what_is_wrong_with_it(case: PlanCase) -> None:
    certified = certify(*case.unsafe())
    slugs = [one.slug for one in certified.diagnostics if one.is_error]
    assert case.slug in slugs
    assert CRASHED.slug not in slugs
    assert certified.plan is None
    clause = next(one for one in certified.certificate.clauses if one.rule == case.slug)
    assert clause.standing is Standing.REFUSED


@pytest.mark.parametrize("case", CASES, ids=named)
def test_its_nearest_safe_twin_passes_and_may_run(case: PlanCase) -> None:
    plan, profiles = case.safe()
    certified = certify(plan, profiles)
    assert [one.message for one in certified.diagnostics if one.is_error] == []
    assert certified.plan is not None
    assert verify(certified.plan, profiles) == ()


@pytest.mark.parametrize("case", GUIDES, ids=named)
def test_guide_warns_and_refuses_nothing(case: PlanCase) -> None:
    noted = certify(*case.unsafe())
    assert noted.plan is not None, [one.message for one in noted.diagnostics if one.is_error]
    assert case.slug in [one.slug for one in noted.diagnostics if one.severity is Severity.WARNING]
    quiet = certify(*case.safe())
    assert quiet.plan is not None, [one.message for one in quiet.diagnostics if one.is_error]
    assert case.slug not in [one.slug for one in quiet.diagnostics]


def test_every_rule_has_a_case() -> None:
    tried = {case.slug for case in CASES} | {case.slug for case in GUIDES}
    assert {rule.slug for rule in RULES} == tried


def test_with_its_rule_switched_off_some_unsafe_plan_passes() -> None:
    """No rule is dead, and none is untested: each is the only one to refuse some plan."""
    unsafe = [(case.slug, case.unsafe()) for case in CASES]
    for rule in RULES:
        if rule.guide:
            continue
        others = tuple(one for one in RULES if one is not rule)
        passed = [
            slug
            for slug, (plan, profiles) in unsafe
            if slug == rule.slug and certify(plan, profiles, rules=others).plan is not None
        ]
        assert passed, f"nothing passes without {rule.slug}"


def test_certificate_survives_being_written_and_read() -> None:
    plan, profiles = CASES[-1].safe()
    certified = certify(plan, profiles).plan
    assert certified is not None
    again = msgspec.json.decode(msgspec.json.encode(certified), type=type(certified))
    assert verify(again, profiles) == ()


def test_ball_that_never_reaches_the_net_is_refused_for_that_alone(tmp_path) -> None:
    """Aimed backwards, it lands behind the launcher: the plan's own figures still agree."""
    launcher = 'profile "garage.toml"  stands 1 m behind centre mark'
    text = example(fed(land="at 0 m, -33 m", spin="flat"), launcher=launcher)
    found = {one.slug for one in check_program(tmp_path / "p.feed", text=text).diagnostics}
    assert {"net-clearance", "lands-outside"} <= found
    assert "flight-differs" not in found
