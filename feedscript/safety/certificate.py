"""Before a run: is this plan's certificate whole, its own, and still true?

The engine trusts nothing that it can work out again. It compares every hash and then holds the
plan against the rules once more; a certificate that would come out differently is refused.
"""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.setting import Setting
from feedscript.plan.canonical import body_hash
from feedscript.plan.certificate import Certificate
from feedscript.plan.model import Plan
from feedscript.safety.analysis.rule import RULES_VERSION
from feedscript.safety.certify import Certified, certify, court_hash, seal_of

_AGAIN = "make the plan again from its program"

NO_CERTIFICATE = Page(
    slug="no-certificate",
    title="A plan without a certificate",
    why="A launcher runs certified plans only. `feedscript certify` makes one of a good program.",
)
OLDER_RULES = Page(
    slug="older-rules",
    title="A certificate by other rules",
    why="Rules get better. A plan that was certified by others than ours is made again.",
)
BROKEN_SEAL = Page(
    slug="broken-seal",
    title="A certificate that was changed",
    why="The seal is the hash of the certificate. A certificate that does not hash was changed.",
)
PLAN_CHANGED = Page(
    slug="plan-changed",
    title="A plan that was changed after it was certified",
    why="The certificate carries the hash of the plan that it speaks of. This is another plan.",
)
OTHER_PROFILE = Page(
    slug="other-profile",
    title="A plan for another launcher",
    why=(
        "A plan is aimed and proven for one profile. On a launcher with another one its balls go "
        "elsewhere."
    ),
)
OTHER_COURT = Page(
    slug="other-court",
    title="A plan for another court",
    why="A plan is proven for one court, its surroundings, and where people were said to be.",
)
CERTIFICATE_DIFFERS = Page(
    slug="certificate-differs",
    title="A certificate that would come out differently today",
    why=(
        "Before a run the plan is held against every rule again. The certificate must say what "
        "the rules then say, to the last figure."
    ),
)
PAGES = (
    NO_CERTIFICATE,
    OLDER_RULES,
    BROKEN_SEAL,
    PLAN_CHANGED,
    OTHER_PROFILE,
    OTHER_COURT,
    CERTIFICATE_DIFFERS,
)


def verify(plan: Plan, profiles: tuple[Profile, ...]) -> tuple[Diagnostic, ...]:
    """Everything that forbids running this plan with these profiles; nothing if it may run."""
    certificate = plan.certificate
    if certificate is None:
        return (NO_CERTIFICATE.report("the plan carries no certificate", help=_AGAIN),)
    found = [*_hashes(plan, certificate), *_profiles(plan, certificate, profiles)]
    if found:
        return tuple(found)
    return _judged_again(plan, certificate, profiles)


def _hashes(plan: Plan, certificate: Certificate) -> list[Diagnostic]:
    found = []
    if certificate.rules_version != RULES_VERSION:
        message = f"certified by rules {certificate.rules_version}, not {RULES_VERSION}"
        found.append(OLDER_RULES.report(message, help=_AGAIN))
    try:
        if seal_of(certificate) != certificate.seal:
            found.append(BROKEN_SEAL.report("the certificate was changed", help=_AGAIN))
        if body_hash(plan) != certificate.body:
            found.append(PLAN_CHANGED.report("the plan was changed", help=_AGAIN))
        if court_hash(plan) != certificate.court_hash:
            found.append(OTHER_COURT.report("the court is not the certified one", help=_AGAIN))
    except ValueError as trouble:
        found.append(PLAN_CHANGED.report(f"the plan does not hash: {trouble}", help=_AGAIN))
    return found


def _profiles(
    plan: Plan, certificate: Certificate, profiles: tuple[Profile, ...]
) -> list[Diagnostic]:
    hashes = tuple(profile_hash(profile) for profile in profiles)
    planned = tuple(launcher.profile_hash for launcher in plan.launchers)
    if hashes == planned == certificate.profile_hashes:
        return []
    message = f"the plan is for profile {_short(planned)}, the launcher has {_short(hashes)}"
    return [OTHER_PROFILE.report(message, help="make the plan again with the launcher's profile")]


def _short(hashes: tuple[str, ...]) -> str:
    return ", ".join(hash_[:16] for hash_ in hashes) or "none"


def _judged_again(
    plan: Plan, certificate: Certificate, profiles: tuple[Profile, ...]
) -> tuple[Diagnostic, ...]:
    again: Certified = certify(msgspec.structs.replace(plan, certificate=None), profiles)
    if again.plan is None:
        return tuple(one for one in again.diagnostics if one.is_error)
    if again.certificate.seal == certificate.seal:
        return ()
    changed = _first_difference(certificate, again.certificate)
    return (CERTIFICATE_DIFFERS.report(f"{changed} would come out differently", help=_AGAIN),)


def _first_difference(old: Certificate, new: Certificate) -> str:
    for before, after in zip(old.clauses, new.clauses, strict=False):
        if before != after:
            return f"the rule {after.rule}"
    return "the certificate"


def covers(plan: Plan, launcher: int, setting: Setting) -> bool:
    """Whether a setting is that of a feed which the plan certifies for this launcher."""
    return any(feed.launcher == launcher and feed.setting == setting for feed in plan.feeds)
