"""What was told of a day as a curve: by when how much was spread and covered."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import pytest
from made_days import RYE, farm_of
from made_live import ACRE_M2, at, begin, covered, rye_day_one, spread

from duskline.answers.telling import settled, told_curve
from duskline.core.log import Event, identified

Curve = tuple[tuple[datetime, float, float], ...]


def curve(*events: Event, now: datetime) -> Curve:
    """The curve of the rye farm's Sunday, which opens at half past nine."""
    account = settled(farm_of(RYE), identified(events))
    return told_curve(account, at(0), now, opens_at=at(9, 30))


def acres_at(found: Curve, moment: datetime) -> tuple[float, float]:
    """What the curve has at one of its moments, in acres."""
    return next((s / ACRE_M2, c / ACRE_M2) for when, s, c in found if when == moment)


def test_a_telling_is_for_the_time_since_the_machine_began() -> None:
    """40 acres told at 11:00 by a spreader that began at 10:20: none before that, all by 11:00."""
    found = curve(begin("Spreader", at(10, 20)), spread(40, at(11)), now=at(13))
    assert acres_at(found, at(9, 30)) == (0.0, 0.0)
    assert acres_at(found, at(10, 20)) == (0.0, 0.0)
    assert acres_at(found, at(11))[0] == pytest.approx(40.0)
    assert acres_at(found, at(13))[0] == pytest.approx(40.0)


def test_each_machine_has_its_own_time_and_they_add_up() -> None:
    """Cultivators that told 10 ac at 11:00 and 12 ac at noon: by 11:00 10 and 12 x 90/150."""
    found = curve(
        spread(60, at(10)),
        covered(10, at(11)),
        covered(12, at(12), machine="Cultivator 2"),
        now=at(12, 30),
    )
    assert acres_at(found, at(11))[1] == pytest.approx(10.0 + 12.0 * 90.0 / 150.0)
    assert acres_at(found, at(12, 30)) == pytest.approx((60.0, 22.0))


def test_a_time_told_with_the_work_wins() -> None:
    """20 acres in the 30 minutes before noon: still none at 11:30."""
    told = replace(spread(20, at(12)), took_s=1800.0)
    assert acres_at(curve(told, now=at(12)), at(11, 30)) == (0.0, 0.0)


def test_ground_open_in_the_morning_is_spread_from_the_start() -> None:
    """30 acres spread on Saturday and 10 of them covered then: 20 open from the opening on."""
    found = curve(
        spread(30, at(15, day=17)), covered(10, at(16, day=17)), covered(6, at(11)), now=at(12)
    )
    assert acres_at(found, at(9, 30)) == pytest.approx((20.0, 0.0))
    assert acres_at(found, at(12)) == pytest.approx((20.0, 6.0))


@pytest.mark.parametrize("hour", [10, 12, 14, 16, 18])
def test_the_curve_ends_with_what_the_log_adds_up_to_and_never_falls(hour: int) -> None:
    """Sixty events of a made day, an undo and a load among them."""
    account = settled(farm_of(RYE), rye_day_one())
    found = told_curve(account, at(0), at(hour), opens_at=at(9, 30))
    assert found[-1] == (at(hour), *(pytest.approx(one) for one in account.day_m2(at(0), at(hour))))
    for before, after in pairwise(found):
        assert after[0] > before[0]
        assert after[1] >= before[1] - 1e-6
        assert after[2] >= before[2] - 1e-6


def test_nothing_told_is_nothing_done() -> None:
    """From the opening to now, and before the opening one moment alone."""
    assert curve(now=at(12)) == ((at(9, 30), 0.0, 0.0), (at(12), 0.0, 0.0))
    assert curve(now=at(8)) == ((at(8), 0.0, 0.0),)
