"""What is wrong with a section, in sentences: key, value, what it must be, what to do."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from noonpot.core.names import is_name, meant

LONGEST_VALUE = 60
OF_SECRETS = "_file"
Section = TypeVar("Section", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Wants:
    """What a key must be, and what to do if it is not. Written beside the type of each key."""

    what: str
    cure: str


def wants(model: type[BaseModel], key: str) -> Wants:
    """The Wants of a key."""
    return next(note for note in model.model_fields[key].metadata if isinstance(note, Wants))


def shown(value: object) -> str:
    """A value as the file has it, cut when long, without a password inside an address."""
    try:
        number = isinstance(value, float)  # TOML and Python write them alike, JSON has no nan
        text = repr(value) if number else json.dumps(value, ensure_ascii=False, default=str)
    except (ValueError, RecursionError):
        return "too long to be shown"
    text = _discreet(text)
    return text if len(text) <= LONGEST_VALUE else text[:LONGEST_VALUE] + "…"


def said(key: str) -> str:
    """A key or a name as the file has it; one that is no plain word stands in quotes."""
    return key if key.isprintable() and len(key) <= LONGEST_VALUE else shown(key)


def _discreet(text: str) -> str:
    """An address without what may be secret in it: name and password, and all that is asked."""
    before, at, after = text.rpartition("@")
    if at and "//" in before:
        text = f"{before[: before.index('//')]}//…@{after}"
    elif at and ":" in before:
        text = f'"…@{after}'
    scheme, slashes, rest = text.partition("://")
    place, mark, _ = rest.partition("?")
    return f"{scheme}{slashes}{place}?…" if slashes and mark else text


def wrong(where: str, key: str, value: object, want: Wants) -> str:
    """The sentence about a value that will not do. That of a key that names the file of a secret is
    not shown: people write the secret itself there.
    """
    if key.endswith(OF_SECRETS):
        return f"{where}{key} must be {want.what}; {want.cure}"
    return f"{where}{key} is {shown(value)}, but must be {want.what}; {want.cure}"


def validated(
    model: type[Section], where: str, table: dict[str, object], mistakes: list[str]
) -> Section | None:
    """The section, or None when it has mistakes; they are added to the list, one for each key."""
    try:
        return model.model_validate(table)
    except ValidationError as error:
        found = {str(item["loc"][0]): item["type"] for item in error.errors(include_url=False)}
    for key, kind in found.items():
        if kind == "extra_forbidden":
            word = said(key)
            sentence = f"{where}{word} is not a key here; {meant(word, model.model_fields)}"
        elif kind == "missing":
            want = wants(model, key)
            sentence = f"{where}{key} is missing; it must be {want.what}: {want.cure}"
        else:
            sentence = wrong(where, key, table[key], wants(model, key))
        mistakes.append(sentence)
    return None


def mistake(model: type[BaseModel], key: str, value: object) -> str | None:
    """The sentence about one value of one key, None when it may have it."""
    mistakes: list[str] = []
    validated(model, "", {key: value}, mistakes)
    return next((told for told in mistakes if told.startswith(f"{key} is {shown(value)},")), None)


def single(file: dict[str, object], kind: str, mistakes: list[str]) -> dict[str, object] | None:
    """The table of a section that is there at most once; None when it is missing or no table."""
    table = file.get(kind)
    if table is None or isinstance(table, dict):
        return table
    mistakes.append(f"{kind} must be one section; write it as [{kind}], in single brackets")
    return None


def named(file: dict[str, object], kind: str, mistakes: list[str]) -> dict[str, dict[str, object]]:
    """The tables [kind.NAME] by their names."""
    tables = single(file, kind, mistakes) or {}
    good = {}
    for name, table in tables.items():
        if isinstance(table, dict):
            good[name] = table
        else:
            mistakes.append(
                f"{kind}.{said(name)} is {shown(table)}, but must be a section; "
                f"write it as [{kind}.NAME]"
            )
    return good


def several(
    file: dict[str, object], kind: str, mistakes: list[str]
) -> Iterator[tuple[str, dict[str, object]]]:
    """The tables [[kind]], each with the words that lead to its keys."""
    tables = file.get(kind, [])
    if not (isinstance(tables, list) and all(isinstance(table, dict) for table in tables)):
        mistakes.append(
            f"{kind} must be a section for each {kind}; write it as [[{kind}]], in double brackets"
        )
        return
    for number, table in enumerate(tables, start=1):
        name = table.get("name")
        fit = isinstance(name, str) and is_name(name)
        yield f"{kind}.{name}." if fit else f"{kind} number {number}: ", table
