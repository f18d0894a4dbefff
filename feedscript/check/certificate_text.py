"""The certificate as a page of plain text, for the terminal and for paper."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from feedscript.plan.certificate import Certificate, Clause, Standing

#: In the order a reader should meet them, with the heading of each.
SECTIONS: Mapping[Standing, str] = {
    Standing.REFUSED: "Refused",
    Standing.WAIVED: "Set aside by the program, with its reason",
    Standing.GUIDE: "Guides exceeded (advice; qualified people decide)",
    Standing.HOLDS: "Proven, with the worst case",
    Standing.SILENT: "Not judged, since nothing of the kind was declared",
}

WIDTH = 96


def in_sections(certificate: Certificate) -> list[tuple[str, list[Clause]]]:
    """The clauses under their headings; headings without clauses are left out."""
    found = []
    for standing, heading in SECTIONS.items():
        clauses = [clause for clause in certificate.clauses if clause.standing is standing]
        if clauses:
            found.append((heading, clauses))
    return found


def figures(clause: Clause) -> str:
    """The limit and the margin in words, or nothing where the rule counts nothing."""
    if clause.margin is None or clause.limit is None:
        return ""
    limit = f"limit {_number(clause.limit)} {clause.unit}".rstrip()
    if clause.margin < 0:
        return f"{limit}, past it by {_number(-clause.margin)} {clause.unit}".rstrip()
    return f"{limit}, margin {_number(clause.margin)} {clause.unit}".rstrip()


def _number(value: float) -> str:
    """A few figures, as a person writes them: never as a power of ten, no idle zeros."""
    size = abs(value)
    if size >= 100:
        return f"{value:.0f}"
    if size >= 10:
        return f"{value:.1f}".removesuffix(".0")
    if 0 < size < 0.01:
        return f"{value:.4f}"
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _clause(clause: Clause) -> list[str]:
    lines = _wrapped(f"{clause.rule}: {clause.worst_case}", "  ", "      ")
    numbers = figures(clause)
    if numbers:
        lines += _wrapped(numbers, "      ", "      ")
    if clause.because:
        lines += _wrapped(f"because: {clause.because}", "      ", "      ")
    return lines


def _wrapped(text: str, first: str, other: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=other, break_on_hyphens=False
    )


def _numbered(items: list[str]) -> list[str]:
    lines: list[str] = []
    for number, item in enumerate(items, 1):
        lines += _wrapped(f"{number:2}. {item}", "  ", "      ")
    return lines


def page(certificate: Certificate, title: str) -> str:
    """The whole page. Ends without a newline."""
    lines = [f"Certificate of {title!r}" if title else "Certificate", ""]
    for heading, clauses in in_sections(certificate):
        lines.append(f"{heading} ({len(clauses)})")
        for clause in clauses:
            lines += _clause(clause)
        lines.append("")
    lines.append("This rests on")
    lines += _numbered(list(certificate.assumptions))
    lines += ["", "Before arming"]
    lines += _numbered([item.words for item in certificate.set_up])
    lines += ["", *_identity(certificate)]
    return "\n".join(lines)


def _identity(certificate: Certificate) -> list[str]:
    profiles = ", ".join(hash_[:16] for hash_ in certificate.profile_hashes)
    return [
        f"rules {certificate.rules_version}, scatter {certificate.sigma:g} sigma, "
        f"flight model {certificate.model} ({certificate.model_version})",
        f"program {certificate.program_hash[:16]}, profile {profiles}, "
        f"court {certificate.court_hash[:16]}, seal {certificate.seal[:16]}",
    ]
