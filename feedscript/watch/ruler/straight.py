"""Straight lines in a picture, from the middles of thin bright ones."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np

from feedscript.watch.camera.camera import Floats
from feedscript.watch.ruler.ridges import Ridges

#: So many lines are looked at, the longest of them.
MOST_LINES = 22


class Straight(msgspec.Struct, frozen=True, eq=False):
    """A line of the picture: a x + b y + c = 0 with a unit normal; its ends, shape (2, 2)."""

    equation: Floats
    ends_px: Floats
    length_px: float  # of what is seen of it


def find_straight(ridges: Ridges) -> list[Straight]:
    """The longest lines, longest first; pieces that lie on one line are one."""
    scale = ridges.thin.shape[1] / 1280
    found = cv2.HoughLinesP(
        ridges.thin.astype(np.uint8),
        1.0,
        np.pi / 720,
        round(28 * scale),
        minLineLength=36 * scale,
        maxLineGap=7 * scale,
    )
    if found is None:
        return []
    pieces = found.reshape(-1, 2, 2).astype(np.float64)
    pieces = pieces[np.argsort(-np.linalg.norm(pieces[:, 1] - pieces[:, 0], axis=1))][:400]
    groups: list[list[Floats]] = []
    for piece in pieces:
        home = next((g for g in groups if _on_one_line(g, piece, scale)), None)
        if home is None:
            groups.append([piece])
        else:
            home.append(piece)
    lines = [_joined(group) for group in groups]
    return sorted(lines, key=lambda line: -line.length_px)[:MOST_LINES]


def _on_one_line(group: list[Floats], piece: Floats, scale: float) -> bool:
    """Whether the shorter piece carries on the group's longest; a lens may bend it a little."""
    start, end = group[0]
    along = (end - start) / np.linalg.norm(end - start)
    way = (piece[1] - piece[0]) / np.linalg.norm(piece[1] - piece[0])
    if abs(along[0] * way[1] - along[1] * way[0]) > 0.035:
        return False
    apart = piece - start
    aside = np.abs(apart[:, 0] * along[1] - apart[:, 1] * along[0])
    beyond = np.abs(apart @ along - np.clip(apart @ along, 0, np.linalg.norm(end - start)))
    return bool((aside < 3.0 * scale + 0.012 * beyond).all())


def _joined(group: list[Floats]) -> Straight:
    """One line through all pieces, each counting by its length."""
    lengths = np.array([np.linalg.norm(piece[1] - piece[0]) for piece in group])
    points = np.concatenate(group)
    weights = np.repeat(lengths, 2) / (2 * lengths.sum())
    middle = weights @ points
    away = points - middle
    _, turns = np.linalg.eigh((away * weights[:, None]).T @ away)
    along, normal = turns[:, 1], turns[:, 0]
    reach = away @ along
    ends = middle + np.outer([reach.min(), reach.max()], along)
    covered = min(float(lengths.sum()), float(np.ptp(reach)))
    return Straight(np.array([*normal, -normal @ middle]), ends, covered)
