"""A practice filmed into a file, to look at: python -m tests.watch.scene.film out.mp4"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.watch.scene.lens import PLACES
from tests.watch.scene.practices import LOOKS, practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import render


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("path", type=Path)
    asked.add_argument("--look", choices=LOOKS, default="noon")
    asked.add_argument("--place", choices=PLACES, default="behind receiver")
    asked.add_argument("--balls", type=int, default=4)
    asked.add_argument("--hits", default="", help="what the player makes of them: in,net,long,...")
    asked.add_argument("--size", default="1280x720")
    asked.add_argument("--rate", type=float, default=60.0)
    asked.add_argument("--shake", type=float, default=0.0, help="pixels")
    asked.add_argument("--busy", action="store_true", help="people, birds, other balls")
    asked.add_argument("--codec", choices=("h264", "mjpeg"), default="h264")
    asked.add_argument("--seed", type=int, default=0)
    told = asked.parse_args()
    width, height = (int(each) for each in told.size.split("x"))
    made = practice(
        told.seed,
        balls=told.balls,
        place=told.place,
        look=told.look,
        size=(width, height),
        busy=told.busy,
        hits=tuple(each for each in told.hits.split(",") if each),
        rate_hz=told.rate,
        shake_px=told.shake,
    )
    film = render(made.scene)
    write(film, told.path, codec=told.codec)
    for number, ball in enumerate(film.truth.balls, 1):
        print(number, ball.flight.launch, "lands", ball.landing_m, ball.bounce)


if __name__ == "__main__":
    main()
