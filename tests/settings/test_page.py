"""The section [page]."""

from pathlib import Path

import pytest

from configurations import EXAMPLE
from noonpot.errors import ConfigError
from noonpot.settings.reading import load
from noonpot.settings.values import PageAccess


def written(folder: Path, section: str) -> Path:
    file = folder / "noonpot.toml"
    text = EXAMPLE.read_text(encoding="utf-8").replace("[page]\n", f"[page]\n{section}\n")
    file.write_text(text, encoding="utf-8")
    return file


def test_without_a_word_this_computer_alone_sees_the_page(tmp_path: Path) -> None:
    file = written(tmp_path, "")
    file.write_text(file.read_text(encoding="utf-8").replace("[page]\n", ""), encoding="utf-8")
    assert load(file).page == PageAccess(enabled=True, bind="127.0.0.1", port=8080, names=())


def test_every_key_changes_what_it_names(tmp_path: Path) -> None:
    section = 'enabled = false\nbind = "0.0.0.0"\nport = 80\nnames = ["Garden.home.arpa"]'
    page = load(written(tmp_path, section)).page
    assert page == PageAccess(
        enabled=False,
        bind="0.0.0.0",  # noqa: S104  nothing is served here
        port=80,
        names=("garden.home.arpa",),
    )


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('bind = "localhost"', 'page.bind is "localhost", but must be an address'),
        ("port = 0", "page.port is 0, but must be a whole number, 1 to 65535"),
        ('names = "garden"', 'page.names is "garden", but must be a list of host names'),
        ('names = ["garden:80"]', 'page.names is ["garden:80"], but must be a list of host names'),
        ("enabled = 1", "page.enabled is 1, but must be true or false"),
        ("colour = 1", "page.colour is not a key here"),
    ],
)
def test_a_mistake_is_told_with_its_cure(tmp_path: Path, line: str, told: str) -> None:
    with pytest.raises(ConfigError) as caught:
        load(written(tmp_path, line))
    (sentence,) = caught.value.mistakes
    assert sentence.startswith(told)
