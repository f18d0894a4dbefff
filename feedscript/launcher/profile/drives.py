"""What makes the ball fly, for every kind of launcher: the hardware facts of each.

Angles of a head are as seen from behind the launcher. Every number is in the unit of its name;
the bounds are wide plausibility bounds of ours that catch a wrong unit, not design rules.
"""

# No postponed annotations here: reading a profile walks these types as they stand.

from typing import Annotated, TypeAlias

import msgspec
from msgspec import Meta


class Range(msgspec.Struct, frozen=True):
    """A closed interval of what may be asked for."""

    least: float
    most: float

    def holds(self, value: float, slack: float = 1e-9) -> bool:
        """Whether ``value`` lies inside, edges included."""
        return self.least - slack <= value <= self.most + slack

    def nearest(self, value: float) -> float:
        """The value inside that is nearest."""
        return min(max(value, self.least), self.most)


def within(least: float, most: float, description: str) -> Meta:
    """Bounds for both ends of a Range (msgspec's own bounds are for plain numbers)."""
    return Meta(description=description, extra={"ge": least, "le": most})


Rpm: TypeAlias = Annotated[Range, within(0.0, 12000.0, "least and most, rpm")]
Diameter: TypeAlias = Annotated[
    float, Meta(ge=0.05, le=0.6, description="outer diameter of a wheel, m")
]
Gap: TypeAlias = Annotated[
    float, Meta(ge=0.03, le=0.085, description="free distance the ball is squeezed through, m")
]
WheelSlip: TypeAlias = Annotated[
    float, Meta(ge=0.3, le=1.1, description="ball speed over the speed without slip")
]
SlipPower: TypeAlias = Annotated[
    float, Meta(ge=-0.4, le=0.4, description="power of the rims' speed, over 20 m/s, in the slip")
]
Squeeze: TypeAlias = Annotated[
    float, Meta(ge=0.5, le=2.0, description="working lever arm of the ball over half the gap")
]
Turn: TypeAlias = Annotated[float, Meta(ge=-180.0, le=180.0, description="degrees")]
Steps: TypeAlias = Annotated[
    tuple[float, ...],
    within(0.0, 12000.0, "the only values that a drive can be set to, whole numbers, rising"),
]


class MeasuredRates(msgspec.Struct, frozen=True, kw_only=True, tag_field="by", tag="measured"):
    """How fast a wheel was seen to change its speed, and to recover after a ball."""

    run_up_rpm_per_s: Annotated[
        float, Meta(ge=1.0, le=50000.0, description="speeding up, rpm per second")
    ]
    run_down_rpm_per_s: Annotated[
        float, Meta(ge=1.0, le=50000.0, description="slowing down, rpm per second")
    ]
    recovery_s: Annotated[
        float, Meta(ge=0.0, le=20.0, description="back to speed after one ball, s")
    ]


class MotorRates(msgspec.Struct, frozen=True, kw_only=True, tag_field="by", tag="motor"):
    """A wheel's rates from its motor: torque, gearing and what must be turned."""

    wheel_inertia_kgm2: Annotated[
        float, Meta(ge=1e-6, le=1.0, description="wheel and hub about their axle, kg m2")
    ]
    rotor_inertia_kgm2: Annotated[
        float, Meta(ge=0.0, le=1.0, description="motor's rotor about its own axle, kg m2")
    ]
    gearing: Annotated[
        float, Meta(ge=0.05, le=100.0, description="turns of the motor for one of the wheel")
    ]
    torque_nm: Annotated[
        float, Meta(ge=1e-4, le=100.0, description="torque of the motor while it speeds up, N m")
    ]
    brake_torque_nm: Annotated[
        float, Meta(ge=0.0, le=100.0, description="braking torque of the motor, N m")
    ]
    friction_torque_nm: Annotated[
        float, Meta(ge=0.0, le=100.0, description="friction at the wheel's axle, N m")
    ]


Response: TypeAlias = MeasuredRates | MotorRates


class TwoWheels(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    tag_field="kind",
    tag="two-wheels",
    omit_defaults=True,
):
    """Two wheels, one at each side of the ball, in a head that may roll about the throw.

    Drives, in order: the wheel that is on top at roll 0, then the other one; rpm.
    """

    wheel_diameter_m: Diameter
    bottom_wheel_diameter_m: Diameter = 0.0  # may be left out: both wheels are of one size
    gap_m: Gap
    slip: WheelSlip
    slip_power: SlipPower = 0.0  # may be left out: the same slip at every speed
    squeeze: Squeeze
    wheel_rpm: Rpm
    steps: Steps = ()  # may be left out: any speed of the range
    roll_deg: Annotated[Range, within(-180.0, 180.0, "least and most roll, degrees")]
    roll_rate_dps: Annotated[
        float, Meta(ge=0.0, le=720.0, description="how fast the head rolls, degrees per second")
    ]
    response: Response


class ThreeWheels(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    tag_field="kind",
    tag="three-wheels",
    omit_defaults=True,
):
    """Three wheels evenly around the ball; any spin across the throw without rolling the head.

    Drives, in order: the wheel at ``first_wheel_deg``, then clockwise; rpm.
    """

    wheel_diameter_m: Diameter
    gap_m: Gap  # diameter of the circle that touches all three wheels
    slip: WheelSlip
    slip_power: SlipPower = 0.0  # may be left out: the same slip at every speed
    squeeze: Squeeze
    wheel_rpm: Rpm
    steps: Steps = ()  # may be left out: any speed of the range
    first_wheel_deg: Turn  # 0 straight above the ball, clockwise positive
    response: Response


class OneWheel(
    msgspec.Struct,
    frozen=True,
    kw_only=True,
    tag_field="kind",
    tag="one-wheel",
    omit_defaults=True,
):
    """One wheel against a fixed pad. The ball rolls along the pad, so speed fixes the spin.

    Drives: the wheel; rpm.
    """

    wheel_diameter_m: Diameter
    gap_m: Gap  # between wheel and pad
    slip: WheelSlip
    slip_power: SlipPower = 0.0  # may be left out: the same slip at every speed
    wheel_rpm: Rpm
    steps: Steps = ()  # may be left out: any speed of the range
    wheel_deg: Turn  # where the wheel sits: 0 above the ball (topspin), 180 below (backspin)
    rolling_share: Annotated[
        float, Meta(ge=0.0, le=1.1, description="spin over the spin of rolling without slip")
    ]
    response: Response


class Air(
    msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="air", omit_defaults=True
):
    """A tank of compressed air behind the ball. No spin.

    Drives: the tank's pressure above the surrounding air; hPa.
    """

    bore_m: Annotated[float, Meta(ge=0.06, le=0.1, description="inner diameter of the barrel, m")]
    barrel_m: Annotated[float, Meta(ge=0.05, le=3.0, description="length the ball is pushed, m")]
    tank_litres: Annotated[float, Meta(ge=0.05, le=50.0, description="volume of the tank, litres")]
    efficiency: Annotated[
        float, Meta(ge=0.02, le=1.0, description="energy of the ball over work of ideal air")
    ]
    ball_mass_g: Annotated[float, Meta(ge=20.0, le=70.0, description="mass of the ball, g")]
    pressure_hpa: Annotated[Range, within(0.0, 4000.0, "least and most above the air around, hPa")]
    steps: Steps = ()  # may be left out: any pressure of the range
    fill_hpa_per_s: Annotated[
        float, Meta(ge=1.0, le=10000.0, description="filling, hPa per second")
    ]
    vent_hpa_per_s: Annotated[
        float, Meta(ge=1.0, le=10000.0, description="venting, hPa per second")
    ]


class Valve(
    msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="valve", omit_defaults=True
):
    """A valve between a tank of one pressure and the ball, open for so long. No spin.

    Drives: how long the valve is open; whole ms, so that it has steps by its nature.
    """

    table: Annotated[
        tuple[tuple[float, float], ...],
        Meta(
            min_length=2,
            max_length=40,
            description="measured pairs, ms of opening and the ball's m/s, both rising; "
            "between two of them a straight line",
            extra={"pairs": ((1.0, 1400.0), (0.5, 70.0))},
        ),
    ]
    speed_factor: Annotated[
        float, Meta(ge=0.5, le=1.5, description="ball speed over the table's, found by tuning")
    ]
    refill_s: Annotated[
        float,
        Meta(ge=0.0, le=60.0, description="from a ball to the tank's pressure again, s"),
    ]

    @property
    def steps(self) -> tuple[float, ...]:
        """Every opening that it can be set to: the wire and the controller's tick count whole ms,
        and from one to the next the speed changes by more than may be rounded away."""
        return tuple(float(ms) for ms in range(int(self.table[0][0]), int(self.table[-1][0]) + 1))


class Arm(
    msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="arm", omit_defaults=True
):
    """An arm that swings from rest and lets go; the ball rolls off its end.

    Drives: how fast the arm turns when it lets go; rpm.
    """

    arm_m: Annotated[float, Meta(ge=0.1, le=2.0, description="axle to the middle of the ball, m")]
    sweep_deg: Annotated[
        float, Meta(ge=20.0, le=720.0, description="turn from rest to letting go, degrees")
    ]
    slip: WheelSlip
    spin_share: Annotated[
        float,
        Meta(ge=-1.0, le=1.0, description="top spin over speed / ball radius; backspin negative"),
    ]
    ball_radius_m: Annotated[float, Meta(ge=0.03, le=0.045, description="radius of the ball, m")]
    arm_rpm: Annotated[Range, within(0.0, 2000.0, "least and most, rpm")]
    steps: Steps = ()  # may be left out: any speed of the range
    arm_inertia_kgm2: Annotated[
        float, Meta(ge=1e-4, le=10.0, description="arm about its axle, kg m2")
    ]
    torque_nm: Annotated[float, Meta(ge=0.01, le=500.0, description="torque on the arm, N m")]
    wind_back_s: Annotated[
        float, Meta(ge=0.0, le=30.0, description="from letting go back to rest, s")
    ]


class Spring(
    msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="spring", omit_defaults=True
):
    """A spring that is drawn, held, and let go behind the ball. Nearly no spin.

    Drives: how far it is drawn; mm. Where it is held by notches, ``steps`` are their draws.
    """

    stiffness_n_per_m: Annotated[
        float, Meta(ge=10.0, le=1e5, description="force for each metre of draw, N/m")
    ]
    moving_mass_g: Annotated[
        float, Meta(ge=0.0, le=2000.0, description="carriage and a third of the spring, g")
    ]
    ball_mass_g: Annotated[float, Meta(ge=20.0, le=70.0, description="mass of the ball, g")]
    efficiency: Annotated[
        float, Meta(ge=0.02, le=1.0, description="energy of all that moves over the spring's")
    ]
    spin_share: Annotated[
        float,
        Meta(ge=-1.0, le=1.0, description="top spin over speed / ball radius; backspin negative"),
    ]
    ball_radius_m: Annotated[float, Meta(ge=0.03, le=0.045, description="radius of the ball, m")]
    draw_mm: Annotated[Range, within(0.0, 1000.0, "least and most draw, mm")]
    steps: Steps = ()  # may be left out: any draw of the range
    draw_rate_mmps: Annotated[
        float, Meta(ge=1.0, le=5000.0, description="how fast it is drawn, mm per second")
    ]


Drive: TypeAlias = TwoWheels | ThreeWheels | OneWheel | Air | Valve | Arm | Spring
