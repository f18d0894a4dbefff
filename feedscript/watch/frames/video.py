"""Pictures of a video, upright, each with the time at which a player would show it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Generator, Iterator, Sequence
from itertools import islice
from pathlib import Path
from types import TracebackType

import av
import av.container
import av.video
import msgspec
import numpy as np
from av.stream import Disposition

from feedscript.diagnostics import Diagnostic
from feedscript.watch.frames.container import BROKEN, MOST_PIXELS, opened, reason, unusable
from feedscript.watch.frames.pages import VIDEO_DAMAGED
from feedscript.watch.frames.upright import Picture, Turn, turn_of, upright

#: The rate is taken from so many pictures at the beginning.
_LOOKED_AT = 240
#: A file whose pictures end so long before it does is called cut; sound may go on a little.
_SLACK_S = 0.5
#: Nine tenths of the gaps differ by less than this share where pictures come evenly.
_EVEN = 0.1


class Frame(msgspec.Struct, frozen=True, eq=False):
    """One picture: seconds from the video's beginning, and grey, shape (height, width)."""

    time_s: float
    grey: Picture
    coloured: Callable[[], Picture]  # blue, green, red: shape (height, width, 3)


class Video(msgspec.Struct, frozen=True):
    """What a video is, as it is seen: turned upright, with square pixels."""

    path: Path
    width_px: int
    height_px: int
    rate_hz: float  # by the middle one of the gaps between pictures
    steady: bool  # False: pictures come at changing rates
    duration_s: float
    tick_s: float  # its times are rounded to whole ones of these; 0: its pictures are counted
    has_sound: bool
    turn: Turn  # what makes a stored picture upright

    def __iter__(self) -> Iterator[Frame]:
        return iter(Frames(self))


class Frames:
    """Runs once through a video's pictures; holds one at a time. Close it to give up early.

    Damaged pictures are left out, and ``troubles`` tells of them afterwards.
    """

    def __init__(self, video: Video, *, from_s: float = 0.0) -> None:
        self.video = video
        self._from_s = from_s
        self._last_s = -np.inf
        self._lost: list[float] = []
        self._why = ""
        self._pictures: Generator[Frame, None, None] = self._run()

    def __enter__(self) -> Frames:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        trouble: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def __iter__(self) -> Iterator[Frame]:
        return self._pictures

    def close(self) -> None:
        """Let go of the file; what is left is not read."""
        self._pictures.close()

    @property
    def progress(self) -> float:
        """How much of the video's time is behind, from 0 to 1."""
        return float(np.clip(self._last_s / self.video.duration_s, 0.0, 1.0))

    @property
    def troubles(self) -> tuple[Diagnostic, ...]:
        """Of what was read so far: what is missing, and where."""
        if not self._lost:
            return ()
        count, first_s = len(self._lost), self._lost[0]
        many = f"{count} places" if count > 1 else "one place"
        return (
            VIDEO_DAMAGED.report(
                f"{many} could not be read, the first at {first_s:.1f} s: {self._why}",
                device=str(self.video.path),
                help="copy the file again; what is there is used",
            ),
        )

    def _run(self) -> Generator[Frame, None, None]:
        with opened(self.video.path) as container:
            stream = _stream(container, self.video.path)
            zero_s = _zero_s(container)
            if self._from_s > 0:
                self._seek(container, self._from_s + zero_s)
            for picture in decoded(container, stream, self._lose):
                frame = self._frame(picture, zero_s)
                if frame is not None and frame.time_s >= self._from_s:
                    yield frame
        self._see_that_it_was_whole()

    def _seek(self, container: av.container.InputContainer, to_s: float) -> None:
        try:
            container.seek(round(to_s * av.time_base))
        except BROKEN:
            return  # read from the beginning instead

    def _frame(self, picture: av.VideoFrame, zero_s: float) -> Frame | None:
        """None for a picture that is damaged, has no time, or comes before the one before it."""
        if picture.is_corrupt or picture.time is None:
            self._lose("damaged" if picture.is_corrupt else "without a time")
            return None
        time_s = picture.time - zero_s
        turn = self.video.turn
        if turn.size(picture) != (self.video.width_px, self.video.height_px):
            self._lose("of another size than the first")
            return None
        if not time_s > self._last_s:
            self._lose("out of order")
            return None
        self._last_s = time_s
        return Frame(
            time_s, upright(picture, turn, "gray"), lambda: upright(picture, turn, "bgr24")
        )

    def _lose(self, why: str) -> None:
        self._why = self._why or why
        self._lost.append(max(self._last_s, self._from_s))

    def _see_that_it_was_whole(self) -> None:
        missing_s = self.video.duration_s - max(self._last_s, self._from_s)
        if missing_s > _SLACK_S + 1 / self.video.rate_hz:
            self._lose(f"the pictures end {missing_s:.1f} s before the video does")


def decoded(
    container: av.container.InputContainer,
    stream: av.video.VideoStream,
    lose: Callable[[str], None],
) -> Iterator[av.VideoFrame]:
    """Every picture that can be read, also past what cannot; ``lose`` is told why not."""
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except BROKEN as trouble:
            lose(reason(trouble))
            return
        if packet is None:
            return
        try:
            yield from packet.decode()
        except BROKEN as trouble:
            lose(reason(trouble))


def open_video(path: Path) -> Video:
    """What the video is. Raises FeedscriptError (``video-unusable``), also where it shows nothing.

    Reads the beginning only, or the whole file once where it does not say how long it is.
    """
    with opened(path) as container:
        stream = _stream(container, path)
        has_sound = bool(container.streams.audio)
        turn, size_px = _first_seen(container, stream, path)
    with opened(path) as container:
        stream = _stream(container, path)
        rate_hz, steady = _rate(_packet_times(container, stream), path)
        duration_s = _told_duration_s(container, stream) or _length_s(path) + 1 / rate_hz
        tick_s = _tick_s(stream, rate_hz)
    return Video(path, *size_px, rate_hz, steady, duration_s, tick_s, has_sound, turn)


def turned_over(video: Video) -> Video:
    """The video with left and right exchanged, of one that was mirrored as it was filmed."""
    turn = msgspec.structs.replace(video.turn, flip_x=not video.turn.flip_x)
    return msgspec.structs.replace(video, turn=turn)


def _stream(container: av.container.InputContainer, path: Path) -> av.video.VideoStream:
    moving = [s for s in container.streams.video if not s.disposition & Disposition.attached_pic]
    if not moving:
        what = "sound, but no pictures" if container.streams.audio else "no pictures"
        raise unusable(path, f"the file has {what}")
    stream = moving[0]
    if getattr(stream, "codec_context", None) is None:
        raise unusable(path, "its pictures are written in a way that is not known here")
    if not stream.width or not stream.height:
        most = MOST_PIXELS // 1_000_000
        raise unusable(path, f"its pictures have no size, or more than {most} million pixels")
    stream.codec_context.options = {"max_pixels": str(MOST_PIXELS)}
    stream.thread_type = "AUTO"
    return stream


def _zero_s(container: av.container.InputContainer) -> float:
    return (container.start_time or 0) / av.time_base


def _first_seen(
    container: av.container.InputContainer, stream: av.video.VideoStream, path: Path
) -> tuple[Turn, tuple[int, int]]:
    """How the first picture that can be read is turned; its width and height then."""
    troubles: list[str] = []
    for picture in decoded(container, stream, troubles.append):
        turn = turn_of(picture, _pixel_width(stream))
        return turn, turn.size(picture)
    why = troubles[0] if troubles else "there is none"
    raise unusable(path, f"no picture of it can be read: {why}")


def _pixel_width(stream: av.video.VideoStream) -> float:
    """How wide a stored pixel is for its height; 1 where the file does not say."""
    told = float(stream.sample_aspect_ratio or 1)
    return told if 0.25 < told < 4 else 1.0


def _packet_times(
    container: av.container.InputContainer, stream: av.video.VideoStream
) -> list[float]:
    """When the first pictures are shown, in order."""
    times_s = []
    with contextlib.suppress(*BROKEN):  # the beginning is enough
        for packet in islice(container.demux(stream), _LOOKED_AT):
            if packet.pts is not None and packet.time_base is not None:
                times_s.append(float(packet.pts * packet.time_base))
    return sorted(times_s)


def _rate(times_s: Sequence[float], path: Path) -> tuple[float, bool]:
    """Pictures a second, and whether they come evenly."""
    gaps_s = np.diff(times_s)
    gaps_s = gaps_s[gaps_s > 0]
    if not len(gaps_s):
        raise unusable(path, "it has one picture only, or does not say when each was taken")
    usual_s = float(np.median(gaps_s))
    return 1 / usual_s, bool(np.quantile(np.abs(gaps_s - usual_s), 0.9) < _EVEN * usual_s)


def _tick_s(stream: av.video.VideoStream, rate_hz: float) -> float:
    """To what times are rounded; some files (AVI) only count pictures, which rounds nothing."""
    tick_s = float(stream.time_base or 0)
    return tick_s if tick_s * rate_hz < 0.5 else 0.0


def _told_duration_s(
    container: av.container.InputContainer, stream: av.video.VideoStream
) -> float | None:
    """What the file says of its pictures, or else of itself."""
    if stream.duration and stream.time_base and stream.duration > 0:
        return float(stream.duration * stream.time_base)
    told = container.duration
    return told / av.time_base if told and told > 0 else None


def _length_s(path: Path) -> float:
    """Until when the file that does not say it has pictures: read through, not decoded."""
    last_s = 0.0
    with opened(path) as container, contextlib.suppress(*BROKEN):  # what is there is there
        for packet in container.demux(_stream(container, path)):
            if packet.pts is not None and packet.time_base is not None:
                last_s = max(last_s, float(packet.pts * packet.time_base) - _zero_s(container))
    return last_s
