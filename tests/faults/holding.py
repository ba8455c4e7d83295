"""For each alarm of a cooker a moment at which it holds, by what the probes then show."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta

from cookingcases import AT, BREAD, FORECAST, STEW
from noonpot.core.cook import Aim
from noonpot.core.facts import Facts
from noonpot.core.foods import Food
from noonpot.core.policy import RuleLimits
from noonpot.core.readings import Fault, FaultKind, Role
from noonpot.core.safety import Course, Safety
from noonpot.core.sanity_signs import Sign, SignKind
from noonpot.core.sun import SunSky

SUN = SunSky(azimuth_deg=150.0, elevation_deg=60.0, ghi=800, dni=850, dhi=90)
OUT = Sign(SignKind.OUT, "loaf", 0.0, 61.0, 92.0, 60.0, Role.POT, 95.0)
LID = Sign(SignKind.LID, "pot", 0.0, 112.0, 81.0, 60.0, Role.IRRADIANCE, 0.0)
LIKELY = replace(FORECAST, p_done=0.95, p_in_time=0.9)
assert BREAD.cook is not None
WAITING = replace(BREAD.cook, load=None, aim=Aim(100.0, 60.0))


def stood(**course: object) -> Facts:
    """Chicken that went through this."""
    been = replace(Course(), **course)  # type: ignore[arg-type]
    safety = Safety(been, 50.0, frozenset({"core"}), 14_400.0, AT + timedelta(hours=1))
    chicken = Food("chicken", target_c=82.0, safe_c=74.0)
    return replace(BREAD, food=chicken, core_c=50.0, safety=safety, forecast=None)


UNSEEN = stood(danger_s=3600.0)
assert UNSEEN.safety is not None
HOLDING: Mapping[str, Facts] = {
    "preheated": replace(BREAD, cook=WAITING, food=Food("bread", 92.0, loading_pot_c=95.0)),
    "done": replace(BREAD, core_c=93.0),
    "turn": replace(BREAD, cook=WAITING, sun=SUN, sun_up=True, misaim_deg=25.0, forecast=None),
    "overdone": BREAD,
    "boil-dry": replace(STEW, core_c=94.0),
    "soon": replace(BREAD, forecast=LIKELY),
    "sky": replace(BREAD, forecast=LIKELY),
    "rescue": BREAD,
    "danger-zone": stood(danger_s=11_000.0),
    "hold": stood(cooked=True, killed=1.0),
    "cooling": stood(cooked=True, killed=1.0, late=(21.0, 7200.0)),
    "food-unknown": replace(UNSEEN, safety=replace(UNSEEN.safety, blind_s=700.0)),
    "probe": replace(BREAD, faults=(Fault("loaf", AT, 0.0, FaultKind.OPEN_CIRCUIT),)),
    "probe-out": replace(BREAD, signs=(OUT,)),
    "lid": replace(BREAD, signs=(LID,)),
    "no-news": replace(BREAD, silent_s=RuleLimits().no_news_s),
}


def silent(facts: Facts, seconds: float) -> Facts:
    """The same once nothing was heard for so long: not a probe, a light, a forecast or a sign. What
    the sun does is known without them.
    """
    return replace(
        facts,
        pot_c=None,
        core_c=None,
        ambient_c=None,
        irradiance_wm2=None,
        forecast=None,
        signs=(),
        silent_s=facts.silent_s + seconds,
        at=facts.at + timedelta(seconds=seconds),
        mono_s=facts.mono_s + seconds,
        safety=facts.safety and replace(facts.safety, core_c=None),
    )
