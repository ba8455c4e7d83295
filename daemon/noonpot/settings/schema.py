"""What all sections of the file have in common."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from noonpot.core.names import is_name
from noonpot.settings.words import Wants


class Section(BaseModel):
    """Any section: no unknown keys, no number given as text."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _name(text: str) -> str:
    if not is_name(text):
        raise ValueError
    return text


Text = Annotated[str, Field(max_length=200, pattern=r"^[^\x00-\x1f\x7f]+$")]
NAME = Wants(
    'lower-case letters, digits and single hyphens, such as "box-1"',
    "messages and files carry this name",
)
Name = Annotated[str, AfterValidator(_name), NAME]
