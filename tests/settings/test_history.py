"""The section [readings]."""

from pathlib import Path

import pytest

from configurations import EXAMPLE
from noonpot.errors import ConfigError
from noonpot.settings.reading import load
from noonpot.settings.values import ReadingsWishes

DAY_S, HOUR_S = 86_400, 3600


def written(folder: Path, section: str) -> Path:
    file = folder / "noonpot.toml"
    text = EXAMPLE.read_text(encoding="utf-8").replace("[readings]\n", f"[readings]\n{section}\n")
    file.write_text(text, encoding="utf-8")
    return file


def test_without_a_word_all_readings_stay_for_two_years_of_watching(tmp_path: Path) -> None:
    file = written(tmp_path, "")
    file.write_text(file.read_text(encoding="utf-8").replace("[readings]\n", ""), encoding="utf-8")
    assert load(file).readings == ReadingsWishes(730 * DAY_S, 2 * HOUR_S, 6 * HOUR_S)


@pytest.mark.parametrize("never", ['"never"', "0"])
def test_never_and_nought_switch_it_off(tmp_path: Path, never: str) -> None:
    assert load(written(tmp_path, f"whole_days = {never}")).readings.whole_s is None


def test_every_key_changes_what_it_names(tmp_path: Path) -> None:
    section = "whole_days = 30\nbefore_cook_h = 0.5\nafter_cook_h = 24"
    wishes = load(written(tmp_path, section)).readings
    assert wishes == ReadingsWishes(30 * DAY_S, HOUR_S // 2, 24 * HOUR_S)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("whole_days = 29", "readings.whole_days is 29, but must be 30 to 36500 days of watching"),
        ('whole_days = "ever"', 'readings.whole_days is "ever", but must be 30 to 36500 days'),
        ("whole_days = false", "readings.whole_days is false, but must be 30 to 36500 days"),
        ("before_cook_h = -1", "readings.before_cook_h is -1, but must be 0 to 48 hours"),
        ("after_cook_h = nan", "readings.after_cook_h is nan, but must be 0 to 48 hours"),
        ("days = 1", "readings.days is not a key here"),
    ],
)
def test_a_mistake_is_told_with_its_cure(tmp_path: Path, line: str, told: str) -> None:
    with pytest.raises(ConfigError) as caught:
        load(written(tmp_path, line))
    (sentence,) = caught.value.mistakes
    assert sentence.startswith(told)
