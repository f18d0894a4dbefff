"""Hold a plan against every rule: one clause each, and a diagnostic for every breach."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Severity
from feedscript.plan.certificate import Clause, Standing, Waiver
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule, Worst
from feedscript.safety.analysis.spans import Locate, nowhere

CRASHED = Page(
    slug="check-failed",
    title="A safety check could not finish",
    why=(
        "A rule of the checker failed on this program for a reason of its own. What could not be "
        "checked is not passed: the program is refused until the cause is found. Common practice "
        "for safety functions (they fail closed); no source."
    ),
)


#: A plan that is not even whole is judged no further: every other rule would stumble over it.
GATE = "sound-plan"


class RuleResults(msgspec.Struct, frozen=True):
    """The outcome of every rule, in the order of the rules."""

    clauses: tuple[Clause, ...]
    diagnostics: tuple[Diagnostic, ...]


def apply_rules(
    facts: PlanFacts,
    rules: Iterable[Rule],
    locate: Locate = nowhere,
    spoken_of: frozenset[int] = frozenset(),
) -> RuleResults:
    """Every rule's clause and every breach's diagnostic. Never raises for what a rule does.

    Breaches of the feeds that were ``spoken_of`` already refuse, but are not reported.
    """
    waivers = {waiver.rule: waiver for waiver in facts.waivers}
    clauses: list[Clause] = []
    diagnostics: list[Diagnostic] = []
    for rule in rules:
        clause, finding, reports = _one(facts, rule, waivers.get(rule.slug))
        clauses.append(clause)
        severity = SEVERITIES.get(clause.standing)
        if severity is not None:
            reports += _reports(rule, finding, locate, severity, spoken_of)
        diagnostics += reports
        if rule.slug == GATE and clause.standing is Standing.REFUSED:
            break
    return RuleResults(tuple(clauses), _each_once(diagnostics))


def _one(
    facts: PlanFacts, rule: Rule, waiver: Waiver | None
) -> tuple[Clause, Finding, list[Diagnostic]]:
    finding, crash = _find(facts, rule)
    if crash is not None:
        return _clause(rule, finding, Standing.REFUSED), finding, [crash]
    if finding.silent:
        return _clause(rule, finding, Standing.SILENT), finding, []
    if not finding.breaches:
        return _clause(rule, finding, Standing.HOLDS), finding, []
    standing, because = _standing(rule, waiver)
    return _clause(rule, finding, standing, because), finding, []


#: Rules that say the same of one mistake, where both speak: the first is left out for the second.
SAID_BY = {"least-interval": "too-soon"}


def _each_once(diagnostics: list[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Never two reports for one mistake."""
    places = {(one.slug, one.span) for one in diagnostics if one.span is not None}
    return tuple(one for one in diagnostics if (SAID_BY.get(one.slug), one.span) not in places)


#: How a breach is reported under each standing.
SEVERITIES = {
    Standing.GUIDE: Severity.WARNING,
    Standing.WAIVED: Severity.NOTE,
    Standing.REFUSED: Severity.ERROR,
}


def _standing(rule: Rule, waiver: Waiver | None) -> tuple[Standing, str]:
    """How a broken rule stands, and the waiver's reason."""
    if rule.guide:
        return Standing.GUIDE, ""
    if waiver is not None and rule.waivable:
        return Standing.WAIVED, waiver.because
    return Standing.REFUSED, ""


def _reports(
    rule: Rule,
    finding: Finding,
    locate: Locate,
    severity: Severity,
    spoken_of: frozenset[int],
) -> list[Diagnostic]:
    """One report for each place, of the worst that is wrong there (breaches come worst first)."""
    reports: dict[object, Diagnostic] = {}
    for breach in finding.breaches:
        if breach.feed in spoken_of:
            continue
        span = locate(breach)
        report = Diagnostic(
            slug=rule.slug,
            severity=severity,
            message=breach.message,
            help=breach.help,
            span=span,
        )
        reports.setdefault(span or breach, report)
    return list(reports.values())


def failed(what: str, trouble: Exception) -> Diagnostic:
    """The refusal that a failure inside the checker comes to, with the place where it arose."""
    import traceback  # only a failure pays for it

    inner = traceback.extract_tb(trouble.__traceback__)[-1]
    place = f"{Path(inner.filename).name}:{inner.lineno}"
    return CRASHED.report(
        f"{what} failed: {type(trouble).__name__}: {trouble} ({place})",
        help="keep the program and its profile and report this; it is a fault of ours",
    )


def _find(facts: PlanFacts, rule: Rule) -> tuple[Finding, Diagnostic | None]:
    # The named outer rim of the checker: whatever goes wrong inside a rule refuses the plan.
    try:
        return rule.find(facts), None
    except Exception as trouble:  # noqa: BLE001
        crash = failed(f"the rule {rule.slug}", trouble)
        return Finding(Worst(crash.message)), crash


def _clause(rule: Rule, finding: Finding, standing: Standing, because: str = "") -> Clause:
    worst = finding.worst
    return Clause(
        rule=rule.slug,
        standing=standing,
        worst_case=worst.words,
        worst=_finite(worst.value),
        limit=_finite(worst.limit),
        margin=_finite(worst.margin),
        unit=worst.unit,
        feed=worst.feed,
        after_feed=worst.after_feed,
        line=worst.line,
        assumption=rule.assumption,
        source=rule.source,
        because=because,
    )


def _finite(value: float | None) -> float | None:
    """The number, where a certificate can carry it."""
    return value if value is not None and math.isfinite(value) else None
