"""Answers held against the description of the page, daemon/noonpot/web/openapi.json."""

import json
import re
from pathlib import Path
from typing import Any

import httpx
from jsonschema import Draft202012Validator

from noonpot import web

API: dict[str, Any] = json.loads((Path(web.__path__[0]) / "openapi.json").read_text("utf-8"))


def described(path: str, method: str) -> dict[str, Any] | None:
    """The operation of a path, None when there is none; the most literal path counts."""
    found = [
        (template.count("{"), operations[method])
        for template, operations in API["paths"].items()
        if method in operations and re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", template), path)
    ]
    return min(found, key=lambda each: each[0])[1] if found else None


def hold(answer: httpx.Response) -> None:
    """Fail unless the answer is one of those that are described."""
    request = answer.request
    operation = described(request.url.path, request.method.lower())
    if operation is None:
        return
    status = str(answer.status_code)
    assert status in operation["responses"], f"{request.method} {request.url.path} gave {status}"
    response = operation["responses"][status]
    if "$ref" in response:
        response = API["components"]["responses"][response["$ref"].rpartition("/")[2]]
    kind = answer.headers["content-type"].partition(";")[0]
    assert kind in response["content"]
    if kind == "application/json":
        answer.read()
        schema = {**response["content"][kind]["schema"], "components": API["components"]}
        Draft202012Validator(schema).validate(answer.json())


def hold_told(path: str, told: Any) -> Any:
    """What a path has told; fails unless it is as described."""
    operation = described(path, "get")
    assert operation is not None
    schema = operation["responses"]["200"]["content"]["application/json"]["schema"]
    Draft202012Validator({**schema, "components": API["components"]}).validate(told)
    return told
