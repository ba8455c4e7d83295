"""Questions read and answers written: JSON in, JSON out, every mistake a sentence."""

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime

from starlette.requests import Request
from starlette.responses import Response

from noonpot.core.moment import utc
from noonpot.core.names import meant
from noonpot.core.orders import utc_time
from noonpot.core.strictjson import parsed
from noonpot.errors import NoonpotError, RequestError, StoreError

LATEST_S = 7_258_118_400  # 2200, beyond any cook
ID = re.compile(r"[A-Za-z0-9-]{8,64}", re.ASCII)
LARGEST_ID = 2**53


class Answer(Response):
    """A body as JSON. Plain ASCII, so that no text that a person typed can fail to be sent."""

    media_type = "application/json"

    def render(self, content: object) -> bytes:
        """The body."""
        return json.dumps(content, allow_nan=False, separators=(",", ":")).encode("ascii")


def refused(status: int, sentence: str, **more: object) -> Answer:
    """An answer that says what to do."""
    return Answer({"error": sentence, **more}, status)


def worded(error: Exception) -> Answer:
    """What a person is told of an error."""
    match error:
        case RequestError():
            return refused(error.status, str(error))
        case StoreError():
            return refused(503, str(error))
        case NoonpotError():
            return refused(400, str(error))
        case _:
            return refused(500, "the page failed at this; the log of noonpot tells more")


async def told(request: Request) -> dict[str, object]:
    """The body of a request. Raises RequestError when it is no JSON object with each key once."""
    try:
        said = parsed(await request.body())
    except ValueError:
        raise RequestError(400, "the body is no JSON object with each key once") from None
    if not isinstance(said, dict):
        raise RequestError(400, "the body must be a JSON object")
    return said


def known_keys(said: Mapping[str, object], *keys: str) -> None:
    """Raise RequestError when there is any other key."""
    strange = sorted(said.keys() - set(keys))
    if strange:
        raise RequestError(
            400, f"{strange[0][:40]!r} is not a key here; {meant(strange[0][:40], keys)}"
        )


def act_id(said: dict[str, object]) -> str:
    """Take the id of an act out of a body. Raises RequestError when it is none."""
    number = said.pop("id", None)
    if isinstance(number, str) and ID.fullmatch(number):
        return number
    raise RequestError(400, "id must be 8 to 64 letters, digits or dashes, a new one for each act")


def text_of(said: Mapping[str, object], key: str, longest: int = 200) -> str | None:
    """A text of a body, None when it is not there. Raises RequestError for anything else."""
    value = said.get(key)
    if value is None:
        return None
    if isinstance(value, str) and 0 < len(value) <= longest and value.isprintable():
        return value
    raise RequestError(400, f"{key} must be a text of 1 to {longest} letters in one line")


def whole(request: Request, key: str, usual: int, low: int, high: int) -> int:
    """A whole number of the query."""
    text = request.query_params.get(key)
    if text is None:
        return usual
    if re.fullmatch(r"\d{1,16}", text, re.ASCII) and low <= int(text) <= high:
        return int(text)
    raise RequestError(400, f"{key} must be a whole number from {low} to {high}")


def when(request: Request, key: str, usual: datetime) -> datetime:
    """A time of the query: Unix seconds, or UTC like 2026-06-03T18:00:00Z."""
    text = request.query_params.get(key)
    if text is None:
        return usual
    try:
        if re.fullmatch(r"\d{1,10}(\.\d{1,6})?", text, re.ASCII):
            at = datetime.fromtimestamp(float(text), UTC)
        else:
            at = utc(utc_time(text))
        if 0 <= at.timestamp() <= LATEST_S:
            return at
    except ValueError:
        pass
    raise RequestError(
        400, f"{key} must be a time after 1970: Unix seconds, or UTC like 2026-06-03T18:00:00Z"
    )


def cook_id(request: Request) -> int:
    """The cook in the path."""
    text = request.path_params["cook"]
    if re.fullmatch(r"\d{1,16}", text, re.ASCII) and 0 < int(text) <= LARGEST_ID:
        return int(text)
    raise no_cook(text)


def no_cook(number: object) -> RequestError:
    """There is no such cook."""
    return RequestError(404, f"there is no cook {str(number)[:20]!r}; /api/cooks lists them all")
