"""Whatever anybody sends: the page answers as it is described, and never with an error of its own.

What is sent is made by schemathesis out of daemon/noonpot/web/openapi.json, right and wrong.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.config import GenerationConfig, SchemathesisConfig
from schemathesis.schemas import BaseSchema
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from noonpot.core.cook import begin
from noonpot.ports import Batch
from noonpot.web.limits import Limits, Pace
from simday import event
from web.described import API
from web.homes import Page, home_in
from web.rated import Rater

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
PATIENCE_S = 60
EVER = Pace(1_000_000, 1_000_000.0)
# No limit stands between the questions and the code, and nobody waits for a watch.
LIMITS = Limits(look=EVER, act=EVER, sign_in=EVER, all_sign_in=EVER, answer_s=0.0)
# What is there, and what is not: of words made by chance, none would be the name of a cooker.
KNOWN: dict[str, list[object]] = {
    "cooker": ["box", "none"],
    "cook": [1, 2],
    "food": ["bread", "stew", "nothing"],
    "alarm": ["done", "turn", "none"],
    "sky": ["clear", "broken", "odd"],
    "on": ["today", "2026-06-04", "never"],
    "at": ["10:30", "25:00"],
    "meal": ["18:00", "2026-06-03T18:00:00Z", "soon"],
}


def asking_for_what_is_there(described: Any) -> Any:
    """The description with known names wherever one is asked for."""
    if isinstance(described, list):
        return [asking_for_what_is_there(each) for each in described]
    if not isinstance(described, dict):
        return described
    if described.get("in") == "path" and described["name"] in KNOWN:
        return {**described, "schema": {"enum": KNOWN[described["name"]]}}
    return {
        key: {
            name: {"enum": KNOWN[name]} if name in KNOWN else schema
            for name, schema in each.items()
        }
        if key == "properties"
        else each
        if key == "responses"
        else asking_for_what_is_there(each)
        for key, each in described.items()
    }


def questions(*, systematic: bool) -> BaseSchema:
    """Questions about all that is described; systematic ones go through every bound as well."""
    config = SchemathesisConfig()
    config.projects.default.generation = GenerationConfig(database="none")
    config.projects.default.phases.coverage.enabled = systematic
    paths = asking_for_what_is_there(API["paths"])
    return schemathesis.openapi.from_dict({**API, "paths": paths}, config=config)


# One stream never ends, and each wish for a plan takes a process of its own, so there are few.
quick = questions(systematic=True).exclude(path=["/api/live", "/api/plan"])
plans = questions(systematic=False).include(path="/api/plan")
bounded = settings(
    max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), database=None
)


Case = schemathesis.Case[Any]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with home_in(tmp_path_factory.mktemp("home")) as home:
        begun, ended = home.clock.moment().at, home.clock.advance(3600).at
        told = [event("box", "start", begun, food="bread"), event("box", "stop", ended)]
        cook = begin(told[0]).after(told[1])
        home.store.write(home.clock.moment(), Batch(events=told, cooks=[cook]))
        with home.page(limits=LIMITS, change=lambda house: replace(house, rating=Rater())) as page:
            yield page


@pytest.fixture(scope="module")
def token(page: Page) -> str:
    return str(httpx.get(f"{page.address}/api/station").json()["token"])


def hold(case: Case, page: Page, token: str) -> None:
    """Send it, and fail unless the answer is described."""
    headers = {"X-Noonpot-Token": token}
    answer = case.call(base_url=page.address, headers=headers, timeout=PATIENCE_S)
    case.validate_response(answer, checks=CHECKS)


@quick.parametrize()
@bounded
def test_every_answer_is_one_that_is_described(case: Case, page: Page, token: str) -> None:
    hold(case, page, token)


@plans.parametrize()
@settings(bounded, max_examples=4)
def test_no_wish_for_a_plan_breaks_it(case: Case, page: Page, token: str) -> None:
    hold(case, page, token)
