"""What a court, its air and its balls can be: one set of ranges for all that speak of them.

The language accepts exactly what the flights are worked out for, so that nothing passes the one and
fails in the other. Each is (least, most), both ends included; design values, where nothing else is
said, wide enough for every court that people play on.
"""

from __future__ import annotations

#: What the standard atmosphere's troposphere and the places people play allow.
ALTITUDE_M = (-500.0, 5000.0)
AIR_C = (-40.0, 60.0)
PRESSURE_HPA = (400.0, 1100.0)
HUMIDITY = (0.0, 1.0)
WIND_MPS = (0.0, 30.0)
#: Of a surface: normal speed after over before.
RESTITUTION = (0.3, 0.95)
#: Of a ball: 0 new to 1 bald.
WEAR = (0.0, 1.0)
