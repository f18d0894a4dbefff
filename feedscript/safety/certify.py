"""Certify a plan: hold it against every rule and seal what was found into it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from feedscript.diagnostics import Diagnostic, has_errors
from feedscript.launcher.guarantees import in_order
from feedscript.launcher.profile.model import Profile
from feedscript.memo import Memo
from feedscript.plan.canonical import body_hash, digest, settled
from feedscript.plan.certificate import Certificate, Clause, SetUpItem, Standing
from feedscript.plan.folds.under_jumps import under_jumps
from feedscript.plan.model import Plan
from feedscript.safety.analysis.apply_rules import GATE, apply_rules
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import RULES_VERSION, Rule
from feedscript.safety.analysis.spans import Locate, nowhere
from feedscript.safety.declared import check_declared
from feedscript.safety.hazards.work import balls_of_each
from feedscript.safety.rules import RULES
from feedscript.safety.rules.short_of_balls import between_collects
from feedscript.safety.set_up import set_up


class Certified(msgspec.Struct, frozen=True):
    """What the rules say of a plan. ``plan`` carries its certificate; None when it was refused."""

    plan: Plan | None
    certificate: Certificate
    diagnostics: tuple[Diagnostic, ...]
    facts: PlanFacts  # what the rules looked at, flights included


def certify(
    plan: Plan,
    profiles: tuple[Profile, ...],
    locate: Locate = nowhere,
    rules: tuple[Rule, ...] = RULES,
    *,
    spoken_of: frozenset[int] = frozenset(),
    memo: Memo | None = None,
) -> Certified:
    """Judge a plan by ``rules`` (all of them, but for tests) and seal the result.

    Nothing more is reported about the feeds that were ``spoken_of`` already; ``memo`` is of earlier
    checks.
    A certificate is made for a refused plan too, so that a person can read why; only a plan that
    no rule refuses comes back with it.
    """
    facts = PlanFacts(plan, profiles, Memo() if memo is None else memo)
    results = apply_rules(facts, rules, locate, spoken_of)
    diagnostics = (
        *check_declared(plan, results.clauses, {rule.slug: rule for rule in RULES}, locate),
        *results.diagnostics,
    )
    certificate = _sealed(facts, results.clauses)
    refused = has_errors(diagnostics)
    passed = None if refused else msgspec.structs.replace(plan, certificate=certificate)
    return Certified(passed, certificate, diagnostics, facts)


def seal_of(certificate: Certificate) -> str:
    """The hash of a certificate but for its seal."""
    return digest(msgspec.structs.replace(certificate, seal=""))


def court_hash(plan: Plan) -> str:
    """The hash of the court and of everything that is declared to be on it."""
    on_court: dict[str, Any] = {
        "court": msgspec.to_builtins(plan.court),
        "keep_outs": msgspec.to_builtins(plan.keep_outs),
        "launchers": [(one.mouth_m, one.heading_deg) for one in plan.launchers],
    }
    return digest(on_court)


def _sealed(facts: PlanFacts, clauses: tuple[Clause, ...]) -> Certificate:
    plan = facts.plan
    model, _, version = plan.flight_model.partition("/")
    sound = any(clause.rule == GATE and clause.standing is Standing.HOLDS for clause in clauses)
    certificate = Certificate(
        rules_version=RULES_VERSION,
        body=body_hash(plan, facts.memo) if sound else "",
        program_hash=plan.program_hash,
        profile_hashes=tuple(launcher.profile_hash for launcher in plan.launchers),
        court_hash=court_hash(plan) if sound else "",
        model=model,
        model_version=version,
        sigma=facts.sigma,
        clauses=clauses,
        set_up=_set_up(facts) if sound else (),
        assumptions=(
            *_assumptions(clauses),
            *_lacking(facts),
            *(_jumps(facts) if sound else ()),
        ),
    )
    certificate = settled(certificate)
    return msgspec.structs.replace(certificate, seal=seal_of(certificate))


def _set_up(facts: PlanFacts) -> tuple[SetUpItem, ...]:
    each = facts.of_steps("balls between collects", between_collects)
    return set_up(facts.plan, facts.profiles, [balls for balls, _ in each])


_ALWAYS = (
    "people do what the set-up list says, and nobody runs into a ball's way",
    "the launcher was watched for its first balls and behaves as it did then",
)


def _lacking(facts: PlanFacts) -> Iterator[str]:
    """What launchers do not promise, and so rests on people."""
    for launcher, profile in zip(facts.plan.launchers, facts.profiles, strict=False):
        if profile.guard.lacks:
            name = f"launcher {launcher.name}" if launcher.name else "the launcher"
            yield (
                f"{name} does not promise {', '.join(in_order(profile.guard.lacks))}: people do "
                "what the set-up list says in its place"
            )


def _jumps(facts: PlanFacts) -> Iterator[str]:
    """What the bounds are however the coach goes through the exercises."""
    bounds = under_jumps(facts.plan)
    if bounds is not None:
        most = max(facts.of_steps("balls of each", balls_of_each))
        minutes = bounds.time_s / 60.0
        yield (
            "whatever exercises are skipped, shortened, repeated or jumped to, the lesson comes to "
            f"{bounds.balls} balls and {minutes:.0f} min of play at most, nobody to more than "
            f"{most:.0f} balls, and nobody waits longer than that play; a series begun again adds "
            f"its balls and its time, its balls within the same {bounds.balls}"
        )


def _assumptions(clauses: tuple[Clause, ...]) -> tuple[str, ...]:
    """What the proof rests on, each once, in the order of the rules."""
    said = [clause.assumption for clause in clauses if clause.standing is not Standing.SILENT]
    return (*_ALWAYS, *dict.fromkeys(one for one in said if one))
