"""Planning again without upheaval: what of the plan before still stands, and what changed.

A stop of the plan before stands where its field may still be sown by that crew on that day. To
give one up has a price; a field that must change anyway may go anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from duskline.core.season_case import Laid, StopPlan
from duskline.core.season_nouns import Change, Schedule, SeasonTask

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from duskline.core.season_way_kernel import Case

__all__ = ["Kept", "changes_between", "standing_plan"]


class Kept:
    """What of the plan before should stay, and what giving it up costs.

    A stop that stands and is given up costs half of ``stability_usd``, and so does a new stop:
    a move costs it in full. A field that must change (its stop cannot stay, its day became
    shorter, the field itself is another or was not wholly placed) has new stops free and pays
    in full for giving up one that stands. New fields are free.

    Attributes
    ----------
    stands : (n, s)
        Stops of the plan before that may stay.
    leave_usd, new_usd : (n, s)
        What giving up each of them costs, and what each other stop costs.
    """

    def __init__(
        self, laid: Laid, task: SeasonTask, previous: Schedule, stability_usd: float
    ) -> None:
        case = laid.case
        before = previous.stops()
        slot_at = {slot: k for k, slot in enumerate(laid.slots)}
        budgets = {(one.day, one.crew): one.budget_s for one in previous.crew_days}
        olds = {f.name: f for f in previous.task.fields}
        self.stands = np.zeros(case.pace.shape, dtype=bool)
        must_change = np.zeros(len(task.fields), dtype=bool)
        for i, f in enumerate(task.fields):
            must_change[i] = olds.get(f.name) != f or f.name in previous.unplaced_m2
            for slot in before.get(f.name, {}):
                k = slot_at.get(slot, -1)
                if k < 0 or case.pace[i, k] <= 0.0:
                    must_change[i] = True
                    continue
                self.stands[i, k] = True
                if case.budget_s[k] < budgets[slot] - 1.0:
                    must_change[i] = True
        leave = np.where(must_change, stability_usd, 0.5 * stability_usd)[:, None]
        self.leave_usd = np.where(self.stands, leave, 0.0)
        new = np.where(must_change, 0.0, 0.5 * stability_usd)[:, None]
        self.new_usd = np.where(self.stands, 0.0, new)

    def priced(self, case: Case) -> Case:
        """Return the case with stops that stand made cheaper, and new ones dearer."""
        return case._replace(visit_usd=case.visit_usd - self.leave_usd + self.new_usd)

    def upset_usd(self, plan: StopPlan) -> float:
        """Return what a plan pays for what it gives up and for its new stops."""
        visited = np.zeros(self.stands.shape, dtype=bool)
        for k, _, i in plan.stops():
            visited[i, k] = True
        return float(self.leave_usd[~visited].sum() + self.new_usd[visited].sum())


def standing_plan(laid: Laid, task: SeasonTask, previous: Schedule) -> StopPlan:
    """Return the stops of the plan before as far as they still stand, in their order.

    Where a day has become too short its stops shrink, the largest most; a stop is taken out only
    where the day has no time for so many.
    """
    case = laid.case
    plan = StopPlan.empty(case)
    field_at = {f.name: i for i, f in enumerate(task.fields)}
    slot_at = {slot: k for k, slot in enumerate(laid.slots)}
    for one in previous.crew_days:
        k = slot_at.get((one.day, one.crew))
        if k is None:
            continue
        for visit in one.visits:
            i = field_at.get(visit.field)
            if i is None or case.pace[i, k] <= 0.0 or plan.cnt[k] >= plan.seq.shape[1]:
                continue
            want = min(visit.area_m2, float(plan.left[i]))
            if case.kg[i] > 0.0:
                want = min(want, float(plan.stock[case.lot[i]] / case.kg[i]))
            if case.whole[i]:
                want = float(case.area[i]) if want >= case.area[i] * (1.0 - 1e-9) else 0.0
            if want <= 1e-6 * case.area[i]:
                continue
            p = int(plan.cnt[k])
            plan.seq[k, p], plan.amt[k, p] = i, want
            plan.cnt[k] += 1
            plan.left[i] -= want
            plan.stock[case.lot[i]] -= want * case.kg[i]
        _fit(case, plan, k)
    plan.tidy(case)
    return plan


def _fit(case: Case, plan: StopPlan, k: int) -> None:
    """Shrink a slot's stops until they fit, then take out the smallest while they do not."""
    from duskline.core.season_way_kernel import day_of

    while plan.cnt[k]:
        count = int(plan.cnt[k])
        done, _ = day_of(case, k, plan.seq[k], plan.amt[k], count)
        over_s = float(done) - float(case.budget_s[k])
        if over_s <= 1e-9 * case.budget_s[k]:
            return
        fields = plan.seq[k, :count]
        least = np.maximum(case.least[fields], 0.1 * case.area[fields])
        spare_s = (
            np.where(case.whole[fields], 0.0, np.maximum(0.0, plan.amt[k, :count] - least))
            * case.pace[fields, k]
        )
        if spare_s.sum() > over_s + 1e-6:
            cut = spare_s * ((over_s + 1e-6) / spare_s.sum()) / case.pace[fields, k]
            plan.amt[k, :count] -= cut
            np.add.at(plan.left, fields, cut)
            np.add.at(plan.stock, case.lot[fields], cut * case.kg[fields])
            # Ground that is waited for takes back less time than is cut: look again.
            after, _ = day_of(case, k, plan.seq[k], plan.amt[k], count)
            if after < done - 1e-9:
                continue
        plan.drop(case, k, [int(np.argmin(plan.amt[k, :count] * case.pace[fields, k]))])


def kept_order(case: Case, k: int, was: list[int], plan: StopPlan) -> None:
    """Put a slot's stops in the order they had, where that still fits and costs no more."""
    from duskline.core.season_way_kernel import day_of

    count = int(plan.cnt[k])
    now = [int(i) for i in plan.seq[k, :count]]
    if now == was or sorted(now) != sorted(was) or len(set(now)) < count:
        return
    seq: NDArray[np.int64] = np.array(was, dtype=np.int64)
    amt = np.array([plan.amt[k, now.index(i)] for i in was])
    done, usd = day_of(case, k, plan.seq[k], plan.amt[k], count)
    old_done, old_usd = day_of(case, k, seq, amt, count)
    if old_done <= max(done, case.budget_s[k]) and old_usd <= usd + 1e-6:
        plan.seq[k, :count], plan.amt[k, :count] = seq, amt


def changes_between(before: Schedule, after: Schedule) -> tuple[Change, ...]:
    """Return what differs between two schedules, field by field, and why."""
    old, new = before.stops(), after.stops()
    names = [f.name for f in after.task.fields]
    names += [f.name for f in before.task.fields if f.name not in set(names)]
    changes = []
    for name in names:
        was, now = old.get(name, {}), new.get(name, {})
        there = any(f.name == name for f in after.task.fields)
        known = any(f.name == name for f in before.task.fields)
        area = max([*was.values(), *now.values(), 0.0])
        same = was.keys() == now.keys() and all(
            abs(was[slot] - now[slot]) <= 1e-3 * area for slot in was
        )
        if same and there and known:
            continue
        if not there:
            what = "gone"
        elif not known:
            what = "new"
        elif name in after.unplaced_m2 and name not in before.unplaced_m2:
            what = "left out"
        else:
            what = "area" if was.keys() == now.keys() else "moved"
        changes.append(
            Change(
                field=name,
                what=what,
                why=_why(name, was, now, before, after),
                before=tuple((day, crew, a) for (day, crew), a in sorted(was.items())),
                after=tuple((day, crew, a) for (day, crew), a in sorted(now.items())),
            )
        )
    return tuple(changes)


def _why(
    name: str,
    was: Mapping[tuple[int, str], float],
    now: Mapping[tuple[int, str], float],
    before: Schedule,
    after: Schedule,
) -> str:
    """Return the reason for a field's change that the two tasks show."""
    old = {f.name: f for f in before.task.fields}.get(name)
    new = {f.name: f for f in after.task.fields}.get(name)
    if new is None:
        return "field gone"
    if old is None:
        return "new field"
    days = {d.day: d for d in after.task.days}
    budgets = {(one.day, one.crew): one.budget_s for one in after.crew_days}
    olds = {(one.day, one.crew): one.budget_s for one in before.crew_days}
    for day, crew in sorted(was):
        if budgets.get((day, crew), 0.0) <= 0.0:
            return "crew off"
        if day < new.ready.on(after.task.ready):
            return "not ready"
        if new.not_after_rain and days[day].after_rain:
            return "after rain"
    if old != new:
        return "field changed"
    touched = {*was, *now}
    if any(budgets.get(s, 0.0) < olds.get(s, math.inf) - 1.0 for s in sorted(was)):
        return "shorter day"
    if any(budgets.get(s, 0.0) > olds.get(s, 0.0) + 1.0 for s in sorted(touched)):
        return "longer day"
    return "makes room"
