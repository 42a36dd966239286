"""Germination, pure live seed and insects against published figures.

Each row names its source beside it; the tolerance is half of the last digit printed. Rows whose
printed figure breaks its own rule stand in a second list with the reason, and the test asserts
the rule.
"""

from __future__ import annotations

import math

import pytest

from duskline.core.seed import (
    Germination,
    GrainKind,
    SeedSample,
    bulk_mass_kg,
    germination,
    half_width_fraction,
    infested,
    pure_live_seed_fraction,
    replicate_tolerance,
    seeds_per_kg_counted,
    seeds_to_count,
    two_tests_agree,
)

LB_KG = 0.45359237
SLACK = 1e-9  # a printed figure exactly half a digit off, held in binary

TXDOT = "Texas DOT, Pure live seed, https://www.txdot.gov/about/campaigns-outreach/bluebonnets-wildflowers/pure-live-seed.html"
EC3 = "PLS vs. bulk seed, http://ec3grp.com/PLS-vs-bulk-seed.htm"
PENN_STATE = "Penn State, Calculating the Price of Pure Live Seed, http://plantscience.psu.edu/research/centers/turf/extension/factsheets/calculating-seed-price"
KSTATE = "Kansas State University, Home germination tests, https://eupdate.agronomy.ksu.edu/eu_article_prep.php?article_id=3148"
SAMPLE_SIZE = "An agronomist wishes to estimate to within one percentage point, https://homeworksource.com/p/1089617/an-agronomist-wishes-to-estimate-to-within-one-percentage-po-1089617"
INTERVAL = "95% confidence interval of proportion test without calculator, https://wiki.rmanhart.org/math.stackexchange.com_en_all_2024-05/questions/890083/95-confidence-interval-of-proportion-test-without-calculator"
CFR_201_55 = (
    "7 CFR 201.55 Retests, http://anthonygarvan.github.io/allregs/html/sections/7CFR201.55.html"
)
LOUISIANA = "Louisiana Administrative Code, title 7, XIII-139 Tolerances, https://d1tvxue8o4w0fl.cloudfront.net/regulation/louisiana-administrative-code/title-7-agriculture-and-animals/part-xiii-seeds/chapter-1-general-provisions/subchapter-c-labels-records-standards-noxious-weed-seed/section-xiii-139-tolerances-formerly-section-105"
STORED_GRAIN = "Insect infestation tolerance table, encyclopedia article on stored grain, https://www.barnardhealth.us/food-processing/info-nig.html"
KENTUCKY = "Bitzer and Herbek, Seeding rate and drill calibration for wheat, University of Kentucky, http://www.uky.edu/Ag/Wheat/seedrate.html"  # noqa: E501

# --- pure live seed ---------------------------------------------------------------------------

PURE_LIVE_SEED = [  # id, purity, germination, hard seed, published, half its last digit, source
    ("SEED-C1", 0.85, 0.75, 0.0, 0.64, 0.005, TXDOT),
    ("SEED-C2", 0.98, 0.92, 0.05, 0.9506, 0.00005, EC3),
    ("SEED-C3", 0.92, 0.80, 0.0, 0.74, 0.005, PENN_STATE),
    ("SEED-C19d", 0.85, 0.60, 0.0, 0.51, 0.005, PENN_STATE),
]
BULK_FOR_LIVE = [  # id, purity, germination, hard, live lb, published bulk lb, half digit, source
    ("SEED-C2", 0.98, 0.92, 0.05, 3.00, 3.16, 0.005, EC3),
    ("SEED-C3", 0.92, 0.80, 0.0, 1.00, 1.4, 0.05, PENN_STATE),
    ("SEED-C19d", 0.85, 0.60, 0.0, 1.00, 2.0, 0.5, PENN_STATE),
]


@pytest.mark.parametrize(
    ("check", "purity", "germinates", "hard", "published", "half", "source"), PURE_LIVE_SEED
)
def test_pure_live_seed_is_as_published(
    *,
    check: str,
    purity: float,
    germinates: float,
    hard: float,
    published: float,
    half: float,
    source: str,
) -> None:
    """Purity times germination, hard seed counted where the source counts it."""
    found = pure_live_seed_fraction(
        purity_fraction=purity, germination_fraction=germinates, hard_fraction=hard
    )
    assert abs(found - published) <= half + SLACK, f"{check}, {source}"


@pytest.mark.parametrize(
    ("check", "purity", "germinates", "hard", "live", "published", "half", "source"), BULK_FOR_LIVE
)
def test_bulk_for_live_seed_is_as_published(
    *,
    check: str,
    purity: float,
    germinates: float,
    hard: float,
    live: float,
    published: float,
    half: float,
    source: str,
) -> None:
    """Live seed over pure live seed."""
    fraction = pure_live_seed_fraction(
        purity_fraction=purity, germination_fraction=germinates, hard_fraction=hard
    )
    found = bulk_mass_kg(live_mass_kg=live * LB_KG, pure_live_seed_fraction=fraction) / LB_KG
    assert abs(found - published) <= half + SLACK, f"{check}, {source}"


def test_bulk_printed_from_a_rounded_share_follows_that_share() -> None:
    """SEED-C1 (Texas DOT): 1.56 lb bulk for a live pound.

    The page rounds 0.6375 to 0.64 first and prints 1 / 0.64 = 1.5625; unrounded it is 1.569,
    which would print as 1.57. The rule is asserted both ways.
    """
    rounded = bulk_mass_kg(live_mass_kg=1.0, pure_live_seed_fraction=0.64)
    assert abs(rounded - 1.56) <= 0.005 + SLACK, TXDOT
    exact = pure_live_seed_fraction(purity_fraction=0.85, germination_fraction=0.75)
    assert bulk_mass_kg(live_mass_kg=1.0, pure_live_seed_fraction=exact) == pytest.approx(
        1.5686, abs=5e-5
    )


def test_price_printed_from_a_rounded_mass_follows_that_mass() -> None:
    """SEED-C19d (Penn State): $1.95 a pound is $3.90 a live pound.

    The page rounds 1.961 lb to 2 lb first; unrounded it is $3.82. The rule is asserted both ways.
    """
    exact = pure_live_seed_fraction(purity_fraction=0.85, germination_fraction=0.60)
    bulk = bulk_mass_kg(live_mass_kg=1.0, pure_live_seed_fraction=exact)
    assert abs(1.95 * round(bulk) - 3.90) <= 0.005 + SLACK, PENN_STATE
    assert abs(1.95 * bulk - 3.82) <= 0.005


def test_the_kentucky_factor_turns_a_count_of_twenty_grams_to_the_pound() -> None:
    """Kentucky: seeds in 20 g x 22.68 is seeds to the pound; the factor is printed to 0.01."""
    counted = seeds_per_kg_counted((SeedSample(mass_kg=0.020, seeds_count=600),))
    assert abs(counted.mean_per_kg * LB_KG / 600 - 22.68) <= 0.005, KENTUCKY


# --- germination ------------------------------------------------------------------------------


def _count(alive: int, seeds: int) -> Germination:
    return germination(alive_counts=(alive,), seeds_per_replicate=seeds, sure_fraction=0.95)


def test_forty_two_of_fifty_is_84_percent() -> None:
    """SEED-C20: 42 healthy seedlings of 50."""
    assert abs(100 * _count(42, 50).estimate_fraction - 84) <= 0.5, KSTATE


def test_count_to_be_within_a_point() -> None:
    """SEED-C21: 97 % to a point either way at 95 % takes 1,118 seeds (whole seeds, exact)."""
    found = seeds_to_count(germination_fraction=0.97, within_fraction=0.01, sure_fraction=0.95)
    assert found == 1118, SAMPLE_SIZE


def test_plain_interval_of_155_of_200() -> None:
    """SEED-C27: 155 of 200 by the normal law: 0.717 to 0.833."""
    width = half_width_fraction(germination_fraction=0.775, seeds_count=200, sure_fraction=0.95)
    assert abs(0.775 - width - 0.717) <= 0.0005, INTERVAL
    assert abs(0.775 + width - 0.833) <= 0.0005, INTERVAL


def test_exact_interval_lies_within_a_point_of_the_plain_one() -> None:
    """SEED-C27: the exact limits of the same count differ by less than one point.

    The published interval is the normal one; the tool shows the exact one, so no half digit.
    """
    exact = _count(155, 200)
    assert abs(exact.interval_low_fraction - 0.717) <= 0.01, INTERVAL
    assert abs(exact.interval_high_fraction - 0.833) <= 0.01, INTERVAL


REPLICATE_RANGES = [  # the table as printed, row by row: mean %, paired mean %, 4 and 2 replicates
    (99, 2, 5, None),
    (98, 3, 6, None),
    (97, 4, 7, 6),
    (96, 5, 8, 6),
    (95, 6, 9, 7),
    (94, 7, 10, 8),
    (93, 8, 10, 8),
    (92, 9, 11, 9),
    (91, 10, 11, 9),
    (90, 11, 12, 9),
    (89, 12, 12, 10),
    (88, 13, 13, 10),
    (87, 14, 13, 11),
    (86, 15, 14, 11),
    (85, 16, 14, 11),
    (84, 17, 14, 11),
    (83, 18, 15, 12),
    (82, 19, 15, 12),
    (81, 20, 15, 12),
    (80, 21, 16, 13),
    (79, 22, 16, 13),
    (78, 23, 16, 13),
    (77, 24, 17, 13),
    (76, 25, 17, 13),
    (75, 26, 17, 14),
    (74, 27, 17, 14),
    (73, 28, 17, 14),
    (72, 29, 18, 14),
    (71, 30, 18, 14),
]


@pytest.mark.parametrize(("mean", "paired", "four", "two"), REPLICATE_RANGES)
def test_replicate_ranges_are_those_of_the_regulation(
    mean: int, paired: int, four: int, two: int | None
) -> None:
    """7 CFR 201.55: widest range among replicates of 100, at a mean and at its pair."""
    for percent in (mean, paired):
        for replicates, allowed in ((4, four), (2, two)):
            rule = replicate_tolerance(
                mean_fraction=percent / 100, replicates_count=replicates, seeds_per_replicate=100
            )
            if allowed is None:
                assert rule.basis == "derived", CFR_201_55
            else:
                assert (rule.allowed_points, rule.basis) == (allowed, "read"), CFR_201_55


def test_the_rule_where_the_table_stops_follows_the_table_to_a_point() -> None:
    """3.98 and 3.17 times sqrt(p q / 100) give the printed ranges to within one point.

    The table is read at replicates of 100; replicates of 101 take the derived rule.
    """
    for mean, _, four, two in REPLICATE_RANGES:
        for replicates, printed in ((4, four), (2, two)):
            derived = replicate_tolerance(
                mean_fraction=mean / 100, replicates_count=replicates, seeds_per_replicate=101
            )
            assert derived.basis == "derived"
            assert derived.allowed_points is not None
            if printed is not None:
                assert abs(derived.allowed_points - printed) <= 1, CFR_201_55


TWO_TESTS = [  # the table as printed: mean % from-to, paired mean % from-to, points allowed
    (99, 99, 2, 2, 2),
    (97, 98, 3, 4, 3),
    (94, 96, 5, 7, 4),
    (91, 93, 8, 10, 5),
    (87, 90, 11, 14, 6),
    (82, 86, 15, 19, 7),
    (76, 81, 20, 25, 8),
    (70, 75, 26, 31, 9),
    (60, 69, 32, 41, 10),
    (51, 59, 42, 50, 11),
]


@pytest.mark.parametrize(("low", "high", "paired_low", "paired_high", "allowed"), TWO_TESTS)
def test_two_test_tolerances_are_those_of_the_code(
    low: int, high: int, paired_low: int, paired_high: int, allowed: int
) -> None:
    """Louisiana code: most two 400-seed tests may differ; two points more for 200 seeds."""
    for percent in (low, high, paired_low, paired_high):
        full, half = _count(4 * percent, 400), _count(2 * percent, 200)
        assert two_tests_agree(first=full, second=full).allowed_points == allowed, LOUISIANA
        assert two_tests_agree(first=half, second=half).allowed_points == allowed + 2, LOUISIANA


def test_two_tests_at_the_allowance_agree_and_beyond_it_do_not() -> None:
    """Louisiana code: around a mean of 85 % seven points pass and eight do not."""
    seven = two_tests_agree(first=_count(354, 400), second=_count(326, 400))
    eight = two_tests_agree(first=_count(356, 400), second=_count(324, 400))
    assert (seven.agree, eight.agree) == (True, False), LOUISIANA


# --- insects ----------------------------------------------------------------------------------

INSECTS = [  # id, grain, live weevils, other live insects in 1 kg, infested
    ("SEED-C28", GrainKind.OATS, 1, 4, False),
    ("rule", GrainKind.OATS, 1, 5, True),
    ("rule", GrainKind.BARLEY, 2, 0, True),
    ("rule", GrainKind.BARLEY, 1, 0, False),
    ("rule", GrainKind.CORN, 0, 9, False),
    ("rule", GrainKind.CORN, 0, 10, True),
    ("rule", GrainKind.WHEAT, 1, 1, True),
    ("rule", GrainKind.RYE, 1, 1, True),
    ("rule", GrainKind.TRITICALE, 1, 1, True),
]


@pytest.mark.parametrize(("check", "kind", "weevils", "others", "verdict"), INSECTS)
def test_infested_is_what_the_table_says(
    check: str, kind: GrainKind, weevils: int, others: int, verdict: bool
) -> None:
    """Counts in one kilogram against the table on stored grain; whole insects, exact."""
    found = infested(kind=kind, weevils_count=weevils, others_count=others, mass_kg=1.0)
    assert found.infested is verdict, f"{check}, {STORED_GRAIN}"
    assert found.basis == "read"


def test_ratio_of_half_width_to_count_is_the_square_root_law() -> None:
    """SEED-C21: the sample size published is the one at which the half width is one point."""
    exact = half_width_fraction(germination_fraction=0.97, seeds_count=1118, sure_fraction=0.95)
    assert exact <= 0.01 < exact * math.sqrt(1118 / 1117), SAMPLE_SIZE
