"""What is told of probes that are not what they are called: the numbers, and what to do."""

from dataclasses import replace

import pytest

from core.test_rules import AT, COOK, FACTS, LOAD, active, judged
from noonpot.core.facts import Facts
from noonpot.core.readings import Fault, FaultKind, Role
from noonpot.core.rules.doubt import STAYS_OPEN_S, evidence, misplaced_text
from noonpot.core.sanity_signs import Sign, SignKind
from noonpot.core.wording import PHONE_LENGTH, Wording

OUT = Sign(SignKind.OUT, "loaf", 0.0, 61.0, 92.0, 60.0, Role.POT, 95.0)
LID = Sign(SignKind.LID, "pot", 100.0, 112.0, 81.0, 60.0, Role.IRRADIANCE, 0.0)
LOADED = replace(FACTS, cook=replace(COOK, load=LOAD), core_c=50.0)


def with_sign(sign: Sign, now_s: float = 200.0) -> Facts:
    return replace(LOADED, signs=(sign,), mono_s=now_s)


def test_a_core_out_of_the_food_is_told_with_what_food_cannot_do() -> None:
    text = judged(with_sign(OUT), "probe-out").text
    assert "loaf not in the food? Rose 31 °C in 60 s towards the pot at 95 °C; food cannot." in text
    assert "Rose 56 °F in 60 s towards the pot at 203 °F" in misplaced_text(
        Wording("F"), "box", OUT
    )


def test_without_a_core_it_is_unknown_whether_it_is_in_the_food() -> None:
    assert judged(LOADED, "probe-out").active is False
    assert judged(replace(LOADED, core_c=None), "probe-out").active is None
    assert judged(replace(with_sign(OUT), core_c=None), "probe-out").active is True
    assert judged(replace(with_sign(OUT), cook=COOK), "probe-out").active is False


def test_a_lid_is_told_and_told_anew_when_it_stays() -> None:
    early, late = (judged(with_sign(LID, s), "lid") for s in (160.0, 100.0 + STAYS_OPEN_S))
    assert early.active is late.active is True
    assert early.subject != late.subject
    assert "pot fell 31 °C, faster than without any sun" in early.text
    assert "not back for 15 min" in late.text


def test_a_cooker_that_lost_the_sun_is_told_unless_its_old_aim_explains_it() -> None:
    sunless = Sign(SignKind.SUNLESS, "pot", 100.0, 112.0, 90.0, 1200.0, Role.IRRADIANCE, 740.0)
    said = judged(with_sign(sunless), "lid")
    assert said.active is True
    assert "pot fell 22 °C in 20 min though the sun shines (740 W/m²). Knocked aside" in said.text
    assert judged(with_sign(sunless), "lid", active("turn")).active is False
    for misaim_deg, expected in ((5.0, True), (25.0, False)):
        facts = replace(with_sign(sunless), misaim_deg=misaim_deg)
        assert judged(facts, "lid").active is expected
        assert judged(facts, "lid", active("lid")).active is True


def test_without_a_pot_it_is_unknown_whether_the_lid_is_open() -> None:
    assert judged(replace(LOADED, pot_c=None), "lid").active is None
    assert judged(LOADED, "lid").active is False
    assert judged(replace(with_sign(LID), cook=None), "lid").active is False


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (SignKind.STUCK, "(92 °C for 25 min)"),
        (SignKind.SHORTED, "(92 °C for 25 min)"),
        (SignKind.REVERSED, "(leapt 31 °C in 25 min to 92 °C, air 95 °C)"),
    ],
)
def test_a_broken_probe_is_told_with_the_numbers_it_is_seen_by(kind: SignKind, words: str) -> None:
    fault = Fault("loaf", AT, 0.0, FaultKind(kind.value))
    sign = replace(OUT, kind=kind, seconds=1500.0)
    text = judged(replace(with_sign(sign), faults=(fault,)), "probe").text
    assert text.endswith(f"{words}.")


def test_probes_that_fall_silent_together_are_their_bus() -> None:
    silent = [Fault(p, AT, 0.0, FaultKind.NOT_ANSWERING) for p in ("loaf", "pot")]
    both = replace(LOADED, faults=tuple(silent))
    assert "2 probes do not answer: likely their bus" in judged(both, "probe").text
    one = replace(both, faults=(silent[0], replace(silent[1], kind=FaultKind.CHECKSUM)))
    assert "likely their bus" not in judged(one, "probe").text


@pytest.mark.parametrize("kind", SignKind)
@pytest.mark.parametrize("beside", [Role.POT, Role.AMBIENT])
def test_texts_with_the_longest_names_fit_a_phone(kind: SignKind, beside: Role) -> None:
    long = "a" * 40
    sign = Sign(kind, long, 0.0, -20.0, 300.0, 36_000.0, beside, 300.0)
    assert len(misplaced_text(Wording("F"), long, sign)) <= PHONE_LENGTH
    assert evidence(Wording("F"), sign)
