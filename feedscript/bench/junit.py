"""Comparisons as JUnit XML: one suite for each two records, one case a ball and one the lesson."""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from feedscript.bench.differences import Comparison, Difference, numbered, told
from feedscript.visible import visible

#: What XML 1.0 (W3C, 2008, production 2) has no place for.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit(comparisons: Sequence[Comparison]) -> bytes:
    """The whole report. Two records with nothing in common are one failed case."""
    suites = Element("testsuites", name="feedscript compare")
    for one in comparisons:
        suites.append(_suite(one))
    for count in ("tests", "failures"):
        suites.set(count, str(sum(int(suite.get(count, "0")) for suite in suites)))
    indent(suites)
    written: bytes = tostring(suites, encoding="utf-8", xml_declaration=True)
    return written


def _suite(one: Comparison) -> Element:
    name = _clean(f"{one.left} | {one.right}")
    suite = Element("testsuite", name=name)
    of_balls: dict[tuple[int, int, int], list[Difference]] = {}
    for part in one.differences:
        of_balls.setdefault((part.launcher, part.ball, part.more), []).append(part)
    places = dict.fromkeys((pair.launcher, pair.ball, pair.more) for pair in one.pairs)
    for launcher, ball, more in [*places, (0, 0, 0)]:
        whole = not ball and not more
        words = "the lesson" if whole else f"launcher {launcher + 1}, {numbered(ball, more)}"
        case = SubElement(suite, "testcase", classname=name, name=words)
        parts = of_balls.get((launcher, ball, more), [])
        if whole and not one.compared:
            failure = SubElement(case, "failure", message="nothing was compared", type="empty")
            failure.text = "the two records know nothing in common"
        if parts:
            fields = ", ".join(dict.fromkeys(part.field for part in parts))
            failure = SubElement(case, "failure", message=_clean(fields), type="parted")
            failure.text = _clean("\n".join(map(told, parts)))
    suite.set("tests", str(len(suite)))
    suite.set("failures", str(sum(case.find("failure") is not None for case in suite)))
    return suite


def _clean(text: str) -> str:
    return _NOT_XML.sub("\ufffd", visible(text))
