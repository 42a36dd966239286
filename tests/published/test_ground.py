"""When ground can be worked after rain, against published rules."""

from __future__ import annotations

import numpy as np
import pytest
from made_folders import EXAMPLES

from duskline.answers.season_task import drying_rule
from duskline.core.weather import DryingWeather, fit_after_rain_s, fit_times_s
from duskline.defaults import defaults
from duskline.exchange.farmfolder import read_farm

DAY_S = 86400.0
INCH_M = 0.0254
RULE = drying_rule(read_farm(EXAMPLES / "rye-after-soybeans"))

# From rain to field capacity on soil that lets water through: 2 to 3 days.
# http://handlebar-online.com/writing-tips/how-do-you-measure-soil-moisture-field-capacity
FIELD_CAPACITY_DAYS = (2.0, 3.0)

# Rain from which runoff begins, by soil moisture before it: 0.75 in. at 25-35 %, about 2 in. under
# 25 % (Discovery Farms, Wisconsin).
# http://cornandsoybeandigest.com/conservation/6-factors-impact-runoff-risk?page=5
RUNOFF_IN = (0.75, 2.0)

# A surface layer that dries: wettings under 0.2 of the day's evaporation are ignored; rain on
# adjoining days is one event (text after the CIGR handbook).
# https://www.progressivegardening.com/agricultural-engineering/wxmax-ze0ul-050llet0j5561.html
IGNORED_SHARE = 0.2


def test_soaked_ground_drains_in_the_days_published() -> None:
    """The draining part of a soaking rain, the quick and the middling ground."""
    soaked_s = (
        fit_times_s(RULE.soaking_m, 1e6, rule=RULE, ground_share=np.array([0.1, 0.5])) / DAY_S
    )
    low, high = FIELD_CAPACITY_DAYS
    assert np.all(soaked_s >= low - 1e-6)
    assert np.all(soaked_s <= high + 1e-6)


def test_the_rain_that_soaks_lies_where_runoff_begins() -> None:
    """Between middling and dry soil; the row's low and high are the two figures."""
    row = defaults()["ground_soaking_rain"]
    low, high = (depth * INCH_M for depth in RUNOFF_IN)
    assert row.low == pytest.approx(low, abs=5e-4)
    assert row.high == pytest.approx(high, abs=5e-4)
    assert low <= RULE.soaking_m <= high


@pytest.mark.parametrize(("share", "waits"), [(0.19, False), (0.21, True)])
def test_a_wetting_under_a_fifth_of_the_evaporation_is_ignored(share: float, waits: bool) -> None:
    """Of a middling day's evaporation."""
    depth = share * RULE.drying_m_per_s.typical * DAY_S
    found = fit_after_rain_s(depth, weather=DryingWeather.MIDDLE, rule=RULE)
    assert (found.typical > 0.0) is waits
    assert RULE.ignored_share == IGNORED_SHARE


def test_the_spreader_may_go_on_wetter_ground_than_the_tines() -> None:
    """Spreading can go wetter than tilling (extension text, https://eco-gem.com/
    navigating-ideal-soil-conditions): it waits less than the whole time.
    """
    row = defaults()["ground_spread_share"]
    assert 0.0 < row.low <= row.typical <= row.high < 1.0
