"""The section [backup]."""

from datetime import time
from pathlib import Path

import pytest

from configurations import EXAMPLE
from noonpot.errors import ConfigError
from noonpot.settings.reading import load
from noonpot.settings.values import BackupWishes


def written(folder: Path, section: str) -> Path:
    file = folder / "noonpot.toml"
    text = EXAMPLE.read_text(encoding="utf-8").replace("[backup]\n", f"[backup]\n{section}\n")
    file.write_text(text, encoding="utf-8")
    return file


def test_without_a_word_there_is_a_backup_each_night(tmp_path: Path) -> None:
    file = written(tmp_path, "")
    file.write_text(file.read_text(encoding="utf-8").replace("[backup]\n", ""), encoding="utf-8")
    assert load(file).backup == BackupWishes(True, None, time(3), 7, 4)


def test_every_key_changes_what_it_names(tmp_path: Path) -> None:
    section = 'enabled = false\nfolder = "stick"\nat = "01:30"\ndays = 3\nweeks = 0'
    wishes = load(written(tmp_path, section)).backup
    assert wishes == BackupWishes(False, tmp_path / "stick", time(1, 30), 3, 0)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('at = "3"', 'backup.at is "3", but must be a time of day'),
        ("days = 0", "backup.days is 0, but must be 1 to 100 days"),
        ("weeks = -1", "backup.weeks is -1, but must be 0 to 100 weeks"),
        ("folder = 1", "backup.folder is 1, but must be the name of a folder"),
        ("hours = 1", "backup.hours is not a key here"),
    ],
)
def test_a_mistake_is_told_with_its_cure(tmp_path: Path, line: str, told: str) -> None:
    with pytest.raises(ConfigError) as caught:
        load(written(tmp_path, line))
    (sentence,) = caught.value.mistakes
    assert sentence.startswith(told)
