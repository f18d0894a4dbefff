"""Equal plans are equal bytes."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.plan.canonical import body_hash, canonical_bytes, digest, quantised, settled
from feedscript.plan.model import Plan
from tests.plan.small_plans import feed, plan, send


def nudged(value: float, times: int) -> float:
    for _ in range(abs(times)):
        value = math.nextafter(value, math.inf if times > 0 else -math.inf)
    return value


@given(st.integers(-(10**9), 10**9), st.integers(-4, 4))
def test_the_last_bits_of_a_float_do_not_reach_the_bytes(millionths, bits):
    value = millionths / 1e6
    assert canonical_bytes({"x": nudged(value, bits)}) == canonical_bytes({"x": value})


def test_the_order_of_keys_does_not_matter_and_minus_zero_is_zero():
    assert (
        canonical_bytes({"b": -0.0, "a": 1})
        == b'{"a":1,"b":0.0}'
        == canonical_bytes({"a": 1, "b": 0.0})
    )


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_a_number_that_is_not_finite_is_refused(value):
    with pytest.raises(ValueError):
        quantised(value)


def test_a_settled_plan_is_what_its_file_says():
    rough = plan(send(0, 1.00000049), feeds=(feed("a", speed_mps=20.123456789),))
    smooth = settled(rough)
    assert smooth != rough
    assert smooth.feeds[0].speed_mps == 20.123457
    assert msgspec.json.decode(canonical_bytes(smooth), type=Plan) == smooth


def test_the_body_hash_ignores_the_certificate_and_nothing_else():
    one = plan(send(0))
    assert body_hash(one) == digest(one)
    assert body_hash(one) != body_hash(msgspec.structs.replace(one, seed=2))
