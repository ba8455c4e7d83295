"""Every fault has words, and the hardware page has the same."""

from pathlib import Path

import pytest

from noonpot.core.faultwords import LONGEST, WORDS
from noonpot.core.readings import FaultKind

HARDWARE_PAGE = Path(__file__).parents[2] / "hardware" / "README.md"


@pytest.mark.parametrize("kind", FaultKind)
def test_every_fault_has_a_meaning_and_a_cure_that_fit_a_phone(kind: FaultKind) -> None:
    words = WORDS[kind]
    assert words.meaning.strip()
    assert words.cure.strip()
    assert len(words.phrase) <= LONGEST


def test_no_two_faults_share_their_meaning() -> None:
    assert len({words.meaning for words in WORDS.values()}) == len(FaultKind)


@pytest.mark.parametrize("kind", FaultKind)
def test_the_hardware_page_says_the_same_as_the_message(kind: FaultKind) -> None:
    row = f"| `{kind}` | {WORDS[kind].meaning} | {WORDS[kind].cure} |"
    assert row in HARDWARE_PAGE.read_text().splitlines()
