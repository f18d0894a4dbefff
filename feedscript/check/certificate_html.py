"""The certificate as one HTML page that stands alone: no script, nothing fetched."""

from __future__ import annotations

from html import escape

from feedscript.check.certificate_text import figures, in_sections
from feedscript.check.hour import Hour, in_words
from feedscript.plan.certificate import Certificate, Clause, Standing

_STYLE = """
:root { color-scheme: light dark; --line: #8886; --soft: #8881; }
body { font: 16px/1.45 system-ui, sans-serif; max-width: 62rem; margin: 2rem auto;
  padding: 0 1rem; }
h1 { font-size: 1.6rem; margin-bottom: .2rem; }
h2 { font-size: 1.15rem; margin: 2rem 0 .5rem; }
.answer { font-size: 1.1rem; margin: 0 0 1rem; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
th:first-child { width: 13rem; } th:last-child { width: 15rem; }
th, td { text-align: left; vertical-align: top; padding: .45rem .6rem;
  border-bottom: 1px solid var(--line); }
th { font-weight: 600; background: var(--soft); }
td.number { font-variant-numeric: tabular-nums; }
code { font-size: .92em; }
details { margin: .2rem 0 0; font-size: .9em; }
summary { cursor: pointer; }
.refused td:first-child { border-left: .35rem solid #b3261e; }
.waived td:first-child, .guide td:first-child { border-left: .35rem solid #b26a00; }
.holds td:first-child { border-left: .35rem solid #2e6f9e; }
.silent td:first-child { border-left: .35rem solid #888; }
footer { margin: 2rem 0; font-size: .85em; overflow-wrap: anywhere; }
li { margin: .25rem 0; }
@media (max-width: 40rem) {
  thead { display: none; } tr { display: block; padding: .4rem 0; }
  td { display: block; border: 0; padding: .1rem .6rem; }
  tr { border-bottom: 1px solid var(--line); }
}
@media print { body { margin: 0; font-size: 11pt; } details { display: block; } }
"""


def _row(clause: Clause) -> str:
    because = f"<br>because: {escape(clause.because)}" if clause.because else ""
    return (
        f'<tr class="{clause.standing.value}"><td><code>{escape(clause.rule)}</code></td>'
        f"<td>{escape(clause.worst_case)}{because}"
        f"<details><summary>rests on</summary>{escape(clause.assumption)}; "
        f"source: {escape(clause.source)}</details></td>"
        f'<td class="number">{escape(figures(clause)).replace(", ", "<br>")}</td></tr>'
    )


def _table(heading: str, clauses: list[Clause]) -> str:
    rows = "\n".join(_row(clause) for clause in clauses)
    return (
        f"<h2>{escape(heading)} ({len(clauses)})</h2>\n<table><thead><tr><th>rule</th>"
        f"<th>worst case</th><th>limit and margin</th></tr></thead>\n<tbody>{rows}</tbody></table>"
    )


def _list(heading: str, items: list[str]) -> str:
    rows = "\n".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<h2>{escape(heading)}</h2>\n<ol>{rows}</ol>"


def _identity(certificate: Certificate) -> str:
    profiles = ", ".join(certificate.profile_hashes)
    return (
        f"<footer>Rules {escape(certificate.rules_version)}; scatter {certificate.sigma:g} sigma; "
        f"flight model {escape(certificate.model)} ({escape(certificate.model_version)}).<br>"
        f"Program {escape(certificate.program_hash)}<br>Profile {escape(profiles)}<br>"
        f"Court {escape(certificate.court_hash)}<br>Seal {escape(certificate.seal)}</footer>"
    )


def _answer(certificate: Certificate) -> str:
    refused = sum(clause.standing is Standing.REFUSED for clause in certificate.clauses)
    if refused:
        return f"Refused: {refused} rule{'s' if refused > 1 else ''} broken. It must not be run."
    return "Passed, within what it rests on below."


def _hour(hour: Hour) -> str:
    said, *exercises = in_words(hour)
    rows = "\n".join(f"<li>{escape(line.split('. ', 1)[1])}</li>" for line in exercises)
    return f"<h2>The hour</h2>\n<p>{escape(said)}</p>\n" + (f"<ol>{rows}</ol>" if rows else "")


def page(certificate: Certificate, title: str, hour: Hour | None = None) -> str:
    """The whole HTML page; with what the hour will hold, where the lesson speaks of time."""
    heading = f"Certificate of “{title}”" if title else "Certificate"
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(heading)}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{escape(heading)}</h1>",
        f'<p class="answer">{escape(_answer(certificate))}</p>',
        *([] if hour is None else [_hour(hour)]),
        *(_table(heading, clauses) for heading, clauses in in_sections(certificate)),
        _list("This rests on", list(certificate.assumptions)),
        _list("Before arming", [item.words for item in certificate.set_up]),
        _identity(certificate),
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"
