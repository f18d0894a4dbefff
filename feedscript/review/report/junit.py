"""Test results as JUnit XML: one suite a program, one case an expectation."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeAlias
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from feedscript.check.expected import Met
from feedscript.check.testing import Tested
from feedscript.diagnostics import render
from feedscript.plan.expect.outcome import ExpectationStanding, Outcome
from feedscript.visible import visible

#: What XML 1.0 (W3C, 2008, production 2) has no place for.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


_Standings: TypeAlias = tuple[ExpectationStanding, ...]
_FAILURES: _Standings = (ExpectationStanding.FAILS, ExpectationStanding.UNTESTED)
_STRICT: _Standings = (*_FAILURES, ExpectationStanding.INCONCLUSIVE)


def junit(tested: Sequence[Tested], *, strict: bool = False) -> bytes:
    """The whole report. A refused program is a case with an error; ``strict``: what was not
    decided is a failure."""
    failures = _STRICT if strict else _FAILURES
    suites = Element("testsuites", name="feedscript")
    for program in tested:
        suites.append(_suite(program, failures))
    for count in ("tests", "failures", "errors", "skipped"):
        suites.set(count, str(sum(int(suite.get(count, "0")) for suite in suites)))
    indent(suites)
    written: bytes = tostring(suites, encoding="utf-8", xml_declaration=True)
    return written


def _suite(program: Tested, failures: _Standings) -> Element:
    name = _clean(str(program.path))
    suite = Element("testsuite", name=name)
    check = SubElement(suite, "testcase", classname=name, name="check")
    errors = 0
    if program.verdict.ok and not program.met:
        errors = 1
        what = "the program expects nothing of itself"
        SubElement(check, "error", message=what, type="untested")
    if not program.verdict.ok:
        errors = 1
        found = [each for each in program.verdict.diagnostics if each.is_error]
        text = "\n\n".join(render(each, program.verdict.sources) for each in found)
        slug = found[0].slug if found else "refused"
        error = SubElement(check, "error", message=_clean(slug), type=_clean(slug))
        error.text = _clean(text)
    standings = [met.outcome.standing for met in program.met]
    for met in program.met:
        suite.append(_case(name, met, failures))
    suite.set("tests", str(1 + len(program.met)))
    failed = sum(standing in failures for standing in standings)
    suite.set("failures", str(failed))
    suite.set("errors", str(errors))
    passed = standings.count(ExpectationStanding.PASSES)
    suite.set("skipped", str(len(standings) - passed - failed))
    return suite


def _case(suite: str, met: Met, failures: _Standings) -> Element:
    case = Element("testcase", classname=suite, name=_clean(met.words), line=str(met.line))
    outcome = met.outcome
    if outcome.standing is ExpectationStanding.PASSES:
        SubElement(case, "system-out").text = _clean(outcome.figure)
        return case
    # An inconclusive case is one that was not decided, which this format calls skipped.
    tag = "failure" if outcome.standing in failures else "skipped"
    found = SubElement(case, tag, message=_clean(outcome.figure))
    found.text = _clean(_example(outcome))
    return case


def _example(outcome: Outcome) -> str:
    example = outcome.counter_example
    if example is None:
        return outcome.figure
    return f"{outcome.figure}\nseed {example.seed}, ball {example.ball}: {example.words}"


def _clean(text: str) -> str:
    return _NOT_XML.sub("\ufffd", visible(text))
