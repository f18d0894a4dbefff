"""What ``feedscript watch --by-sound`` does: flight times of a lesson's balls, without pictures."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NoReturn

import msgspec

from feedscript.cli.after.watch_balls import lesson_of, said_of
from feedscript.cli.output import Exit, answer, leave, refuse, tell, writing
from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.told_units import speed_told, told_units
from feedscript.watch.by_sound import Heard, Unheard, behind
from feedscript.watch.listen import Listened, listen


def listened(sound: Path, court: Court, output_format: str, options: dict[str, Any]) -> NoReturn:
    """Listen, tell, and end the command. Raises FeedscriptError (``video-silent``)."""
    lesson = lesson_of(court, options, output_format)
    said = said_of(lesson, options["offset"], options["at_ball"])
    if isinstance(said, Diagnostic):
        refuse(Exit.PROGRAM, [said], output_format)
    found = listen(sound, lesson, behind(End(options["camera_at"]), court), said)
    if isinstance(found, Diagnostic):
        refuse(Exit.PROGRAM, [found], output_format)
    out: Path | None = options["out"]
    if out is not None:
        with writing(out):
            write_private(out, msgspec.json.format(msgspec.json.encode(found), indent=2) + b"\n")
    files = [] if out is None else [str(out)]
    if output_format == "json":
        plain = {"ok": True, "heard": msgspec.to_builtins(found), "files": files}
        answer(output_format, headed("watch-sound", plain))
    else:
        tell("\n".join([*_words(found), *(f"wrote {one}" for one in files)]))
    leave(Exit.FINE)


def _words(found: Listened) -> list[str]:
    heard = [one for one in found.balls if isinstance(one, Heard)]
    clock = found.clock
    return [
        f"clock     {clock.heard} of {clock.expected} thumps and bounces heard in time; "
        f"known to {clock.sd_s * 1000:.0f} ms",
        f"balls     {len(heard)} of {len(found.balls)} heard to leave and to bounce",
        "",
        f" ball       flight, s  asked {told_units().speed + ' at the mouth':>18}  asked",
        *map(_row, found.balls),
        "",
        "± is one standard deviation; the speed is what the flight time says of it, where the "
        "launcher's angle and spin are as asked",
    ]


def _row(one: Heard | Unheard) -> str:
    if isinstance(one, Unheard):
        return f"{one.number:>5} {one.why}"
    flight = f"{one.flight_s.value:.3f} ± {one.flight_s.sd:.3f}"
    speed = f"{speed_told(one.speed_mps.value):.0f} ± {speed_told(one.speed_mps.sd):.0f}"
    asked = speed_told(one.asked_speed_mps)
    return f"{one.number:>5} {flight:>15} {one.asked_flight_s:>6.3f} {speed:>18} {asked:>6.0f}"
