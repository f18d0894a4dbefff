"""What is known of any camera before its picture is looked at."""

from __future__ import annotations

import numpy as np

from feedscript.watch.camera.camera import PARAMETERS, Camera, Floats

#: Standard deviations of k1, k2, p1, p2, and of the middle of the picture as a share of its width.
#: Design values for phones and action cameras, whose makers have most of the bend taken out.
LENS_SD = (0.1, 0.03, 8e-4, 8e-4)
CENTRE_SD_SHARE = 0.006


def known_lens(camera: Camera) -> tuple[Floats, Floats]:
    """Of each of ``PARAMETERS`` one over its variance (0: nothing is known), and what the camera
    lacks of its usual value. Both of shape (13,)."""
    sd, lack = np.full(len(PARAMETERS), np.inf), np.zeros(len(PARAMETERS))
    sd[7:11] = LENS_SD
    lack[7:11] = -np.array([camera.k1, camera.k2, camera.p1, camera.p2])
    sd[11:] = CENTRE_SD_SHARE * camera.width_px
    middle = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    lack[11:] = np.subtract(middle, camera.centre_px)
    return 1 / sd**2, lack
