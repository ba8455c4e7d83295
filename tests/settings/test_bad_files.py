"""What is said of wrong configurations: every mistake at once, in whole sentences."""

from pathlib import Path

import pytest

from configurations import NAMES, full_example, laid_out, sentences
from noonpot.errors import ConfigError
from noonpot.settings.reading import load


@pytest.mark.parametrize("name", NAMES)
def test_a_wrong_file_gets_exactly_its_sentences(name: str, tmp_path: Path) -> None:
    file = laid_out(name, tmp_path)

    with pytest.raises(ConfigError) as caught:
        load(file)

    assert caught.value.mistakes == sentences(name)
    assert str(caught.value).splitlines() == [f"{file}: {told}" for told in sentences(name)]


def test_there_are_many_wrong_files_and_several_with_many_mistakes() -> None:
    assert len(NAMES) >= 25
    assert sum(len(sentences(name)) >= 4 for name in NAMES) >= 3


@pytest.mark.parametrize("name", NAMES)
def test_no_sentence_shows_a_secret(name: str) -> None:
    assert "not-to-be-shown" not in "".join(sentences(name))


def told(path: Path) -> str:
    with pytest.raises(ConfigError) as caught:
        load(path)
    return str(caught.value)


def test_a_missing_file_points_to_init(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    assert told(path) == f"{path}: there is no such file; 'noonpot init' writes one"


def test_a_folder_is_no_configuration(tmp_path: Path) -> None:
    assert told(tmp_path) == f"{tmp_path}: it is a folder; 'noonpot init' writes one"


def test_a_file_in_another_encoding_is_named_as_such(tmp_path: Path) -> None:
    path = tmp_path / "old.toml"
    path.write_bytes('name = "Gärtnerei"'.encode("latin-1"))
    assert told(path) == f"{path}: it is no text in UTF-8; save it as such"


def test_an_empty_file_lacks_every_section_once(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("")
    assert [line.split(": ")[1].split()[0] for line in told(path).splitlines()] == [
        "[station]",
        "[[bus]]",
        "[[cooker]]",
        "[[probe]]",
    ]


@pytest.mark.parametrize(
    "odd", ['""', "-1", "1e300", "nan", "true", "[]", "[[1]]", "{}", "2016-06-03", r'"\u0000/é"']
)
def test_whatever_stands_behind_a_key_is_taken_or_told_never_a_crash(
    odd: str, tmp_path: Path
) -> None:
    path = full_example(tmp_path)
    lines = path.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        key, is_key, _ = line.partition(" = ")
        if not is_key:
            continue
        path.write_text("\n".join([*lines[:number], f"{key} = {odd}", *lines[number + 1 :]]))
        mistakes = []
        try:
            load(path)
        except ConfigError as error:
            mistakes = error.mistakes
        assert not mistakes or any(key in mistake for mistake in mistakes), (line, mistakes)


def test_sections_of_the_wrong_shape_are_told(tmp_path: Path) -> None:
    path = tmp_path / "shapes.toml"
    path.write_text(
        'station = 1\npoll = []\nbus = ""\ncooker = [1]\nprobe = {}\nalarm = 2\nfood = 3'
    )
    assert told(path).replace(f"{path}: ", "").splitlines() == [
        "station must be one section; write it as [station], in single brackets",
        "poll must be one section; write it as [poll], in single brackets",
        "bus must be a section for each bus; write it as [[bus]], in double brackets",
        "cooker must be a section for each cooker; write it as [[cooker]], in double brackets",
        "probe must be a section for each probe; write it as [[probe]], in double brackets",
        "alarm must be one section; write it as [alarm], in single brackets",
        "food must be one section; write it as [food], in single brackets",
    ]
