"""Whoever comes to the page of a station: with the passphrase, by a link, or with neither. All that
they get to see is kept, but for what they were given to keep for themselves.
"""

from dataclasses import dataclass, field
from uuid import uuid4

import httpx

from security.estate import FULL, MARK, PASSPHRASE, Estate

PATIENCE_S = 180.0
GUESS = f"{MARK} passphrasf"  # a slip of the finger is nearly the secret
LINK_GUESS = f"{MARK}-link-guess"
PATHS = (
    "/",
    "/api/station",
    "/api/now",
    "/api/health",
    "/api/cookers/box/curve",
    "/api/cooks",
    "/api/cooks/1",
    "/api/cooks/1/recording.csv",
    "/api/cooks/1/table.csv",
    "/api/shares",
    "/api/openapi.json",
    "/metrics",
    *(("/api/cooks/1/report.html",) if FULL else ()),
)


@dataclass
class Seen:
    """What was seen, by place, and the secrets that the page itself has given away."""

    places: dict[str, str] = field(default_factory=dict)
    secrets: set[str] = field(default_factory=set)

    def note(self, who: str, answer: httpx.Response) -> None:
        heads = {name: value for name, value in answer.headers.items() if name != "set-cookie"}
        place = f"{who}: {answer.request.method} {answer.request.url.path} {uuid4().hex[:4]}"
        self.places[place] = f"{answer.status_code} {heads}\n{answer.text}"


def answers(estate: Estate) -> bool:
    """Whether the page is served."""
    try:
        return httpx.get(f"http://localhost:{estate.page_port}/api/station").status_code == 200
    except httpx.TransportError:
        return False


def visits(estate: Estate, *, cooked: bool = True) -> Seen:
    """All of them, one after the other; ``cooked`` whether there is a cook to look at."""
    seen = Seen()
    address = f"http://localhost:{estate.page_port}"
    with httpx.Client(base_url=address, timeout=PATIENCE_S) as stranger:
        _as_a_stranger(stranger, seen)
    with httpx.Client(base_url=address, timeout=PATIENCE_S) as owner:
        link = _as_the_owner(owner, seen, cooked)
    with httpx.Client(base_url=address, timeout=PATIENCE_S) as guest:
        seen.note("guest", guest.get(f"/s/{link}"))
        for path in ("/", "/api/station", "/api/now", "/api/health", "/api/shares", "/api/cooks"):
            seen.note("guest", guest.get(path))
    bearer = {"authorization": f"Bearer {link}"}
    numbers = httpx.get(f"{address}/metrics", headers=bearer, timeout=PATIENCE_S)
    assert "noonpot_watch_process_resident_memory_bytes" in numbers.text
    seen.note("program", numbers)
    return seen


def _as_a_stranger(client: httpx.Client, seen: Seen) -> None:
    token = client.get("/api/station").json()["token"]
    ours = {"x-noonpot-token": token}
    seen.note("stranger", client.get("/api/station", headers={"host": "elsewhere.example"}))
    seen.note("stranger", client.get(f"/s/{LINK_GUESS}"))
    guess = {"passphrase": GUESS}
    seen.note("stranger", client.post("/api/session", json=guess, headers=ours))
    elsewhere = ours | {"sec-fetch-site": "cross-site"}
    seen.note("stranger", client.post("/api/session", json=guess, headers=elsewhere))
    for path in PATHS:
        seen.note("stranger", client.get(path, headers={"authorization": f"Bearer {LINK_GUESS}"}))


def _as_the_owner(client: httpx.Client, seen: Seen, cooked: bool) -> str:
    """Sign in, make a link, look at everything; returns the secret of the link."""
    token = client.get("/api/station").json()["token"]
    right = {"passphrase": PASSPHRASE}
    signed_in = client.post("/api/session", json=right, headers={"x-noonpot-token": token})
    assert signed_in.status_code == 200, signed_in.text
    seen.note("owner", signed_in)
    ours = {"x-noonpot-token": client.get("/api/station").json()["token"]}
    share = client.post("/api/shares", json={"name": "aunt"}, headers=ours)
    assert share.status_code == 200, share.text
    link = str(share.json()["path"]).removeprefix("/s/")
    seen.secrets |= {link, client.cookies["noonpot"]}
    for path in PATHS:
        answer = client.get(path)
        there = cooked or "/cooks/1" not in path
        assert answer.status_code == (200 if there else 404), f"{path}: {answer.text}"
        seen.note("owner", answer)
    if FULL:  # what has helpers of its own; on a busy machine they may be late, and say so
        wish = {"cooker": "box", "food": "bread"}
        for answer in (
            client.get("/api/cookers/box/rating"),
            client.post("/api/plan", json=wish, headers=ours),
        ):
            late = answer.status_code == 503 and " within " in answer.text
            assert answer.status_code == 200 or late, answer.text
            seen.note("owner", answer)
    return link
