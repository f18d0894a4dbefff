"""What programs withstand, told: as plain data, and as JUnit XML."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from feedscript.bench.trials.hold_trials import Held, Standing
from feedscript.visible import visible

#: What XML 1.0 (W3C, 2008, production 2) has no place for.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(one: Held, *, strict: bool) -> dict[str, object]:
    """One program under one fault."""
    return {
        "file": str(one.path),
        "fault": one.trial.name,
        "where": one.trial.where.value,
        "what": one.trial.what.value,
        "ok": one.ok(strict=strict),
        "standing": one.standing.value,
        "ending": one.ending,
        "expectations": [
            {"expectation": judged.words, "holds": judged.holds, "figure": judged.figure}
            for judged in one.judged
        ],
    }


def junit(found: Sequence[Held], *, strict: bool) -> bytes:
    """One suite a program, one case a fault."""
    suites = Element("testsuites", name="feedscript withstand")
    for path, ones in groupby(found, key=lambda one: one.path):
        name = _clean(str(path))
        suite = SubElement(suites, "testsuite", name=name)
        for one in ones:
            _case(suite, name, one, strict=strict)
        for count, tag in (("tests", None), ("failures", "failure"), ("skipped", "skipped")):
            cases = suite.findall("testcase")
            number = sum(tag is None or case.find(tag) is not None for case in cases)
            suite.set(count, str(number))
    for count in ("tests", "failures", "skipped"):
        suites.set(count, str(sum(int(suite.get(count, "0")) for suite in suites)))
    indent(suites)
    written: bytes = tostring(suites, encoding="utf-8", xml_declaration=True)
    return written


def _case(suite: Element, name: str, one: Held, *, strict: bool) -> None:
    case = SubElement(suite, "testcase", classname=name, name=_clean(one.trial.name))
    if one.standing is Standing.HOLDS:
        return
    tag = "skipped" if one.ok(strict=strict) else "failure"
    told = SubElement(case, tag, message=one.standing.value)
    told.text = _clean("\n".join(f"{each.words}: {each.figure}" for each in one.failed))


def _clean(text: str) -> str:
    return _NOT_XML.sub("\ufffd", visible(text))
