"""Twenty wrong lines of twenty kinds give twenty diagnostics: none hidden, none doubled."""

from __future__ import annotations

from feedscript.language import read

#: Each wrong line carries the slug that it must give, as a comment.
PROGRAM = """\
feedscript 1
title "Twenty mistakes
court { surface caly }                                      # unknown-choice
balls { stage green   load 2.5 }                            # not-whole
launcher { stands 1 m behind centre mark   colour red }     # unknown-property
group { 5 players   left-handed 9 }                         # out-of-range
lett tempo = 4 s                                            # unknown-item
let 2nd = 4 s                                               # bad-name
let pause_a = pause_b + 1 s                                 # circle
let pause_b = pause_a + 1 s
feed deep { land 2 m inside baseline, 1 m inside ad sideline   speed 70 km }     # wrong-dimension
feed wide { land 2 m inside bassline, on centre line   speed 70 km/h }           # unknown-place
feed open { land 2 m inside baseline   speed 70 km/h }                           # place-incomplete
feed fast { land 2 m inside baseline, on centre line   speed 70 }                # no-unit
feed slow { land 2 m inside baseline, on centre line   speed 70 kmp/h }          # unknown-unit
feed lazy { land 2 m inside baseline, on centre line }                           # missing-line
feed pair { land 2 m inside baseline 1 m inside ad sideline   speed 70 km/h }    # missing-word
feed bits { land 2 m inside baseline, on centre line   speed 70,5 km/h }         # bad-number
lesson {
    show speed of deep
    sned deep after 4 s                                     # unknown-step
    send depe after 4 s                                     # unknown-name
    send deep                                               # no-gap
    rest 5 s;                                               # stray-character
}
"""


def wanted() -> list[tuple[int, str]]:
    lines = [(2, "unclosed-text")]
    for number, line in enumerate(PROGRAM.splitlines(), 1):
        if "# " in line:
            lines.append((number, line.rpartition("# ")[2].strip()))
    return lines


def test_each_wrong_line_gives_its_one_diagnostic() -> None:
    expected = wanted()
    program, diagnostics = read(PROGRAM, "twenty.feed")
    found = [(d.span.line, d.slug) for d in diagnostics if d.span is not None]
    assert program is None
    assert found == expected
    assert len({slug for _, slug in expected}) == len(expected) >= 20


def test_each_diagnostic_has_place_cause_and_fix() -> None:
    _, diagnostics = read(PROGRAM, "twenty.feed")
    for diagnostic in diagnostics:
        assert diagnostic.span is not None
        assert diagnostic.message
        assert diagnostic.help, diagnostic.slug
