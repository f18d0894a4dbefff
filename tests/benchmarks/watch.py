"""What looking a film over costs: processor time for each second of it, decoding included. By hand:

    python -m tests.benchmarks.watch [--balls 2] [--high 1080]

A film is made first, which takes longer than what is measured. Times are processor time of all
threads; on two cores, less than two seconds for each second of film is faster than it plays. Wall
time stands beside it, and means something on a quiet machine only.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

from feedscript.court.lines import COURTS
from feedscript.watch.fit.measured import Measured
from feedscript.watch.frames.video import Frames, open_video
from feedscript.watch.look import look_over
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.find import Ruler
from feedscript.watch.ruler.stands import stills_of
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import render


class Clocks:
    """Processor and wall time since it was made."""

    def __init__(self) -> None:
        self.processor_s, self.wall_s = time.process_time(), time.monotonic()

    def tell(self, what: str, film_s: float) -> None:
        processor_s, wall_s = time.process_time() - self.processor_s, time.monotonic() - self.wall_s
        print(
            f"{what:<10} {processor_s / film_s:6.2f} s of processor for a second of film, "
            f"{wall_s / film_s:6.2f} s by the wall"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--balls", type=int, default=2)
    parser.add_argument("--high", type=int, default=1080)
    told = parser.parse_args()
    size = (told.high * 16 // 9, told.high)
    made = practice(12, balls=told.balls, size=size, gap_s=2.2)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.mp4"
        film = render(made.scene)
        write(film, path)
        video, feeds = open_video(path), expected(made, "noon")
        print(f"{size[0]} x {size[1]} at {video.rate_hz:.0f} Hz, {video.duration_s:.1f} s")
        clocks = Clocks()
        for _ in Frames(video):
            pass
        clocks.tell("decoding", video.duration_s)
        clocks = Clocks()
        stills, _ = stills_of(video)
        clocks.tell("stills", video.duration_s)
        camera = as_it_is(film.truth.lens)
        places = [Standing(still, Ruler(camera, None, 0.02, 0.9)) for still in stills]
        clocks = Clocks()
        found, _ = look_over(video, places, feeds, COURTS["singles"])
        clocks.tell("balls", video.duration_s)
        seen = sum(isinstance(one, Measured) for one in found.values())
        most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{seen} of {len(found)} balls measured; at most {most_mb:.0f} MB, the making included"
        )


if __name__ == "__main__":
    main()
