"""Every wrong option of a simulated garden is refused with a sentence."""

import pytest

from fakes import FakeClock
from noonpot.errors import BusError
from simday import at, open_garden

BOX = {"name": "box"}


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (
            {},
            'cookers is None; write cookers = [{name = "box", kind = "box", pot = "light"}]',
        ),
        (
            {"cookers": []},
            'cookers is []; write cookers = [{name = "box", kind = "box", pot = "light"}]',
        ),
        (
            {"cookers": "box"},
            'cookers is \'box\'; write cookers = [{name = "box", kind = "box", pot = "light"}]',
        ),
        ({"cookers": [BOX], "sed": 1}, "option 'sed' is unknown; did you mean seed?"),
        ({"cookers": [BOX], "seed": 1.5}, "seed is 1.5; give a whole number from 0 on"),
        ({"cookers": [BOX], "seed": True}, "seed is True; give a whole number from 0 on"),
        ({"cookers": [BOX], "seed": -1}, "seed is -1; give a whole number from 0 on"),
        (
            {"cookers": [BOX], "sky": "blue"},
            "sky is 'blue'; choose from broken, clear, overcast, thin-cloud",
        ),
        ({"cookers": [BOX], "sky": "overcasts"}, "sky is 'overcasts'; did you mean overcast?"),
        (
            {"cookers": [BOX], "sky": 3},
            (
                'sky is 3; write one word or [{from = "06:00", sky = "clear"}, '
                '{from = "12:40", sky = "thin-cloud"}]'
            ),
        ),
        (
            {"cookers": [BOX], "sky": [{"from": "25:00", "sky": "clear"}]},
            "sky change from '25:00'; give the time in UTC like \"10:40\"",
        ),
        (
            {"cookers": [BOX], "sky": [{"from": 10, "sky": "clear"}]},
            'sky change from 10; give the time in UTC like "10:40"',
        ),
        (
            {"cookers": [BOX], "sky": [{"from": "10:40", "sky": "fog"}]},
            "sky is 'fog'; choose from broken, clear, overcast, thin-cloud",
        ),
        (
            {"cookers": [BOX], "sky": [{"at": "10:40", "sky": "clear"}]},
            "sky option 'at' is unknown; choose from from, sky",
        ),
        ({"cookers": [BOX], "ambient_c": 77}, "ambient_c is 77; give a number from -30 to 50"),
        ({"cookers": [BOX], "wind_ms": "calm"}, "wind_ms is 'calm'; give a number from 0 to 20"),
        ({"cookers": [BOX], "noise_c": -0.1}, "noise_c is -0.1; give a number from 0 to 5"),
        ({"cookers": [BOX], "noise_c": float("nan")}, "noise_c is nan; give a number from 0 to 5"),
        ({"cookers": [BOX, BOX]}, "cooker name 'box' stands twice; give each its own"),
        (
            {"cookers": [{}]},
            "cooker name is None; give small letters, digits, single hyphens",
        ),
        (
            {"cookers": [{"name": "a/b"}]},
            "cooker name is 'a/b'; give small letters, digits, single hyphens",
        ),
        (
            {"cookers": [BOX | {"pots": "light"}]},
            "cooker option 'pots' is unknown; did you mean pot?",
        ),
        ({"cookers": [BOX | {"pot": "clay"}]}, "pot is 'clay'; choose from heavy, light"),
        ({"cookers": [BOX | {"kind": "oven"}]}, "kind is 'oven'; choose from box, reflector"),
        (
            {"cookers": [BOX | {"aperture_m2": 0}]},
            "aperture_m2 is 0; give a number from 0.05 to 4",
        ),
        (
            {"cookers": [BOX | {"acceptance_deg": 120}]},
            "acceptance_deg is 120; give a number from 2 to 90",
        ),
    ],
)
def test_a_wrong_option_is_named_with_its_value_and_the_cure(
    options: dict[str, object], sentence: str
) -> None:
    with pytest.raises(BusError) as refused:
        open_garden(options, FakeClock(at("10:00")))
    assert str(refused.value) == f"simulated: {sentence}"
