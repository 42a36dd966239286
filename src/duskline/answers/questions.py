"""What may be asked before the first field, how much stands on it, and who can answer.

The questions are raised in ``duskline.answers.check`` and ``duskline.answers.check_season``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import TypeAlias

__all__ = ["SOURCES", "Ask", "Question", "QuestionKey", "Severity", "Value"]

Value: TypeAlias = "float | str | bool | date | datetime | tuple[str, ...] | None"
OWN = "our judgement"


class Severity(StrEnum):
    """How much stands on the answer."""

    STOP_AND_ASK = "stop and ask"
    ASK = "ask"
    NOTE = "note"


class Ask(StrEnum):
    """Who can answer."""

    OFFICE = "the program office"
    LABEL = "the label or seed tag"
    NEIGHBOR = "the neighbor"
    BUYER = "the grain buyer"
    EXTENSION = "the extension office"
    LAW = "the labor office"
    CREW = "your own crew"


class QuestionKey(StrEnum):
    """What is asked; within one severity, in this order."""

    TILLAGE = "tillage"
    METHOD = "method"
    PROGRAM_NOT_STATED = "program not stated"
    SOW_BY_PASSED = "sow by passed"
    READY_AFTER_SOW_BY = "ready after sow by"
    READY_AFTER_DUE = "ready after due"
    SOW_BY_NEAR = "sow by near"
    DUE_NOT_STATED = "due not stated"
    MAY_BE_READY_AFTER_DUE = "may be ready after due"
    RATE_BELOW_FLOOR = "rate below floor"
    MIX_AND_FLOOR = "mix and floor"
    GERMINATION_TOO_LOW = "germination too low"
    GERMINATION_NEEDS_AGREEMENT = "germination needs agreement"
    GERMINATION_UNDER_USUAL = "germination under usual"
    GERMINATION_AGREED = "germination agreed"
    SAVED_SEED = "saved seed"
    LABORATORY_TEST = "laboratory test"
    TREATED_SEED = "treated seed"
    TREATED_NEAR_WATER = "treated near water"
    INSECTS = "insects"
    FIGURE_CANNOT_BE = "figure cannot be"
    BIN_SHORT = "bin short"
    LOT_NOT_STATED = "lot not stated"
    LOT_UNUSED = "lot unused"
    HERBICIDE = "herbicide"
    FLY_FREE = "fly-free date"
    FLY_FREE_NOT_STATED = "fly-free date not stated"
    ERODIBLE = "erodible"
    EDGE = "edge"
    NOT_AFTER_RAIN = "not after rain"
    FIELD_BIGGER_THAN_A_DAY = "field bigger than a day"
    OUTLINES_OVERLAP = "outlines overlap"
    ACRES_DIFFER = "acres differ"
    LEFT_OUT = "left out"
    PREVIOUS_CROP_MISSING = "previous crop missing"
    NUMBERS_MISSING = "numbers missing"
    TOO_YOUNG_TO_DRIVE = "too young to drive"
    TOO_YOUNG_TO_LOAD = "too young to load"
    YOUNG_HELPER = "young helper"
    ROAD_IN_DARK = "road in dark"
    NO_EMERGENCY_PLACE = "no emergency place"
    LOW_SURENESS = "low sureness"
    DEFAULT_EFFICIENCY = "default efficiency"
    IN_NO_CREW = "in no crew"
    CREWS_SHARE = "crews share"
    FORECAST_OLD = "forecast old"
    CLIMATE_NOT_STATED = "climate not stated"
    LOSSES_IN_DOLLARS = "losses in dollars"


SOURCES: Mapping[QuestionKey, str] = {
    QuestionKey.TILLAGE: "missouri-n340-2015",
    QuestionKey.METHOD: "missouri-n340-2015",
    QuestionKey.PROGRAM_NOT_STATED: OWN,
    QuestionKey.SOW_BY_PASSED: OWN,
    QuestionKey.READY_AFTER_SOW_BY: OWN,
    QuestionKey.SOW_BY_NEAR: "allamakee-pls-2017",
    QuestionKey.RATE_BELOW_FLOOR: OWN,
    QuestionKey.MIX_AND_FLOOR: OWN,
    QuestionKey.GERMINATION_TOO_LOW: OWN,
    QuestionKey.GERMINATION_NEEDS_AGREEMENT: "maryland-low-germination-2016",
    QuestionKey.GERMINATION_UNDER_USUAL: "maryland-low-germination-2016",
    QuestionKey.GERMINATION_AGREED: "maryland-low-germination-2016",
    QuestionKey.SAVED_SEED: "maryland-saved-seed",
    QuestionKey.LABORATORY_TEST: "ohio-nrcs-appendix-a",
    QuestionKey.TREATED_SEED: "umn-treated-seed",
    QuestionKey.TREATED_NEAR_WATER: "umn-treated-seed",
    QuestionKey.INSECTS: "insect-tolerance-table",
    QuestionKey.FIGURE_CANNOT_BE: OWN,
    QuestionKey.BIN_SHORT: OWN,
    QuestionKey.LOT_NOT_STATED: OWN,
    QuestionKey.LOT_UNUSED: OWN,
    QuestionKey.HERBICIDE: "nebraska-plant-back-2015",
    QuestionKey.FLY_FREE: "ohio-fly-free-2015",
    QuestionKey.FLY_FREE_NOT_STATED: "ohio-fly-free-2015",
    QuestionKey.ERODIBLE: "erodible-lease-2011",
    QuestionKey.EDGE: OWN,
    QuestionKey.NOT_AFTER_RAIN: OWN,
    QuestionKey.OUTLINES_OVERLAP: OWN,
    QuestionKey.ACRES_DIFFER: OWN,
    QuestionKey.LEFT_OUT: OWN,
    QuestionKey.PREVIOUS_CROP_MISSING: "catoctin-certification",
    QuestionKey.NUMBERS_MISSING: "field-guide-documentation",
    QuestionKey.TOO_YOUNG_TO_DRIVE: "wisconsin-youth-hazards",
    QuestionKey.TOO_YOUNG_TO_LOAD: "wisconsin-youth-hazards",
    QuestionKey.YOUNG_HELPER: "clemson-pto",
    QuestionKey.ROAD_IN_DARK: "ohio-aex-892",
    QuestionKey.NO_EMERGENCY_PLACE: OWN,
    QuestionKey.LOW_SURENESS: OWN,
    QuestionKey.DEFAULT_EFFICIENCY: OWN,
    QuestionKey.READY_AFTER_DUE: OWN,
    QuestionKey.DUE_NOT_STATED: OWN,
    QuestionKey.MAY_BE_READY_AFTER_DUE: OWN,
    QuestionKey.FIELD_BIGGER_THAN_A_DAY: OWN,
    QuestionKey.IN_NO_CREW: OWN,
    QuestionKey.CREWS_SHARE: OWN,
    QuestionKey.FORECAST_OLD: OWN,
    QuestionKey.CLIMATE_NOT_STATED: OWN,
    QuestionKey.LOSSES_IN_DOLLARS: OWN,
}
"""Where the reason for a question was read: a bibliography key, or our judgement."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One thing to ask.

    Attributes
    ----------
    key, severity, ask
        What it is, how much stands on it, and who can answer.
    subject
        The field, lot, person or machine it is about; empty for the whole farm.
    values
        The figures the sentence needs, in SI, by name with the unit at its end; days as
        "days", moments aware, names as tuples of text.
    source
        A bibliography key, or "our judgement".
    """

    key: QuestionKey
    severity: Severity
    ask: Ask
    subject: str = ""
    values: Mapping[str, Value] = field(default_factory=dict)

    @property
    def source(self) -> str:
        """Where the reason for it was read."""
        return SOURCES[self.key]
