"""What a program says about the rules themselves: waivers and stricter limits.

A waiver needs a rule that may be waived and a reason; a requirement needs a limit that may be
moved and a number that is stricter than the default. Everything else is refused.
"""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Diagnostic, Page, Severity, Span
from feedscript.language.program import Program
from feedscript.nearest import nearest
from feedscript.plan.certificate import Clause, Standing
from feedscript.plan.model import Plan
from feedscript.safety.analysis.limit import Limit
from feedscript.safety.analysis.plan_facts import SCATTER, PlanFacts
from feedscript.safety.analysis.rule import Breach, Rule
from feedscript.safety.analysis.spans import Locate
from feedscript.safety.examples import example
from feedscript.safety.rules import RULES
from feedscript.units import Dimension

UNKNOWN_RULE = Page(
    slug="unknown-rule",
    title="No such rule",
    why=(
        "`allow` and `require` name a safety rule by its slug, as a diagnostic prints it in square "
        "brackets and as `feedscript why SLUG` knows it."
    ),
    wrong=example(more="require net-clearence 0.5 m"),
    corrected=example(more="require net-clearance 0.5 m"),
)
NEVER_WAIVED = Page(
    slug="never-waived",
    title="A rule that is never waived",
    why=(
        "Some rules keep people out of a ball's way or a launcher within what it can do. No "
        "reason sets them aside; what they ask must be so. `feedscript why SLUG` says which "
        "rules a program may set aside with a reason."
    ),
    wrong=example(more='allow too-soon because "it has always worked so far"'),
    corrected=example(),
)
NO_REASON = Page(
    slug="no-reason",
    title="A rule set aside without a reason",
    why=(
        "Whoever sets a rule aside says why, so that whoever reads the certificate can judge it. "
        "A reason has at least three words."
    ),
    wrong=example(more='allow net-clearance because "ok"'),
    corrected=example(),
)
NOT_STRICTER = Page(
    slug="not-stricter",
    title="A limit that would be laxer",
    why=(
        "`require` makes a rule's limit stricter, never laxer: not than the project's own figure, "
        "and not than what the group's stage, level or age, or the launcher, ask anyway. To set a "
        "rule aside, use `allow`, with a reason."
    ),
    wrong=example(more="require net-clearance 5 cm"),
    corrected=example(more="require net-clearance 50 cm"),
)
IDLE_WAIVER = Page(
    slug="idle-waiver",
    title="A rule set aside that was not broken",
    why=(
        "A waiver that nothing needs hides what it would let through later. Take it out; the "
        "checker says when it is needed."
    ),
    severity=Severity.WARNING,
    wrong=example(more='allow net-clearance because "volley feed taken at the net"'),
    corrected=example(),
)
WRONG_DIMENSION = Page(
    slug="limit-dimension",
    title="A limit in a unit that does not measure it",
    why=(
        "`require` gives a rule's limit in a unit of what the rule limits: a length, a speed, a "
        "time, a temperature, or a plain number of balls or sigmas."
    ),
    wrong=example(more="require net-clearance 0.5 s"),
    corrected=example(more="require net-clearance 0.5 m"),
)
PAGES = (UNKNOWN_RULE, NEVER_WAIVED, NO_REASON, NOT_STRICTER, IDLE_WAIVER, WRONG_DIMENSION)

#: What each unit that a limit is given in measures.
DIMENSIONS = {
    "m": Dimension.LENGTH,
    "m/s": Dimension.SPEED,
    "s": Dimension.TIME,
    "C": Dimension.TEMPERATURE,
    "balls": Dimension.COUNT,
    "sigma": Dimension.COUNT,
}


def check_declared(
    plan: Plan, clauses: tuple[Clause, ...], rules: Mapping[str, Rule], locate: Locate
) -> tuple[Diagnostic, ...]:
    """What is wrong with the program's waivers and requirements, one report for each at most."""
    found = []
    used = {clause.rule for clause in clauses if clause.standing is Standing.WAIVED}
    for waiver in plan.waivers:
        span = locate(Breach("", "", line=waiver.line, part="allow"))
        wrong = _waiver(waiver.rule, waiver.because, rules, span)
        found.append(wrong if wrong or waiver.rule in used else _idle(waiver.rule, span))
    for asked in plan.requirements:
        span = locate(Breach("", "", line=asked.line, part="require"))
        found.append(_requirement(asked.rule, asked.value, rules, span))
    return tuple(one for one in found if one is not None)


def _idle(slug: str, span: Span | None) -> Diagnostic:
    return IDLE_WAIVER.report(
        f"{slug} is set aside, but nothing breaks it", help="take the line out", span=span
    )


def laxer_than_own(facts: PlanFacts, locate: Locate) -> tuple[Diagnostic, ...]:
    """Limits that are asked for, and laxer than what this group or these launchers have anyway.

    Asked of a program only, not of a plan whose group has changed: who comes later may have a
    stricter limit of their own, and the one asked for still holds for the others.
    """
    rules = {rule.slug: rule for rule in RULES}
    found = []
    for asked in facts.plan.requirements:
        rule = rules.get(asked.rule)
        if rule is None or rule.limit is None or rule.own_limit is None:
            continue
        own = rule.own_limit(facts)
        laxer = asked.value != own and rule.limit.strictest((own, asked.value)) == own
        if not laxer or not rule.limit.allows(asked.value):
            continue  # what is laxer than the project's own figure is refused already
        found.append(
            NOT_STRICTER.report(
                f"{asked.value:g} {rule.limit.unit} is laxer than the {own:g} {rule.limit.unit} "
                f"that {rule.slug} holds to here anyway",
                help=f"ask for a {rule.limit.stricter.value} figure, or take the line out",
                span=locate(Breach("", "", line=asked.line, part="require")),
            )
        )
    return tuple(found)


def wrong_dimensions(program: Program) -> tuple[Diagnostic, ...]:
    """Stricter limits written in a unit that does not measure what the rule limits."""
    limits = _limits({rule.slug: rule for rule in RULES})
    found = []
    for asked in program.requirements:
        limit = limits.get(asked.rule)
        if limit is None or asked.dimension is DIMENSIONS[limit.unit]:
            continue
        wanted = DIMENSIONS[limit.unit]
        found.append(
            WRONG_DIMENSION.report(
                f"{asked.rule} is limited by a {wanted}, not by a {asked.dimension}",
                help=f"write it like {limit.default:g} {limit.unit}".replace(" balls", ""),
                span=asked.span,
            )
        )
    return tuple(found)


def _limits(rules: Mapping[str, Rule]) -> dict[str, Limit]:
    limits = {rule.slug: rule.limit for rule in rules.values() if rule.limit is not None}
    return limits | {"scatter": SCATTER}


def _unknown(slug: str, names: Mapping[str, object], span: Span | None) -> Diagnostic:
    close = nearest(slug, names)
    return UNKNOWN_RULE.report(
        f"there is no rule called {slug!r}",
        help=f"did you mean {close!r}?" if close else "see the rules in the safety chapter",
        span=span,
    )


def _waiver(
    slug: str, because: str, rules: Mapping[str, Rule], span: Span | None
) -> Diagnostic | None:
    rule = rules.get(slug)
    if rule is None:
        return _unknown(slug, rules, span)
    if not rule.waivable:
        return NEVER_WAIVED.report(
            f"{slug} is never set aside", help="change the lesson so that it holds", span=span
        )
    if len(because.split()) < 3:
        return NO_REASON.report(
            f"{slug} is set aside without a reason that a reader could judge",
            help="say in a few words why it is right here",
            span=span,
        )
    return None


def _requirement(
    slug: str, value: float, rules: Mapping[str, Rule], span: Span | None
) -> Diagnostic | None:
    limits = _limits(rules)
    limit = limits.get(slug)
    if limit is None and slug in rules:
        return NOT_STRICTER.report(
            f"the limit of {slug} is not the program's to set",
            help="it comes from the launcher's profile or from the lesson itself",
            span=span,
        )
    if limit is None:
        return _unknown(slug, limits, span)
    if not limit.allows(value):
        return NOT_STRICTER.report(
            f"{value:g} {limit.unit} is laxer than the {limit.default:g} {limit.unit} that {slug} "
            "holds to",
            help=f"ask for a {limit.stricter.value} figure, or use `allow` with a reason",
            span=span,
        )
    return None
