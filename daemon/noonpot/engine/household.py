"""What all watches of a station share."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from noonpot.core.foods import Food
from noonpot.core.learning import Knowledge
from noonpot.core.policy import AlarmPolicy, Manners, RuleLimits
from noonpot.core.rescue import OtherHeat
from noonpot.core.station import Station
from noonpot.core.wording import Wording


@dataclass(frozen=True, slots=True)
class Household:
    """What all watches of a station share: foods, alarm numbers, words, what past cooks taught
    about each cooker, the other heat that stands by, and how people are told.
    """

    station: Station
    foods: Mapping[str, Food]
    policies: Mapping[str, AlarmPolicy]
    limits: RuleLimits
    wording: Wording
    knowledge: Mapping[str, Knowledge] = field(default_factory=dict)
    heat: OtherHeat = field(default_factory=OtherHeat)
    manners: Manners = field(default_factory=Manners)
