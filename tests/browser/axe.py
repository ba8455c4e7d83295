"""What axe-core finds on a page that keeps somebody out: https://github.com/dequelabs/axe-core."""

from pathlib import Path

from playwright.sync_api import Page

from hatch_build import Parcel, fetch

GRAVE = ("serious", "critical")
VENDOR = Path(__file__).with_name("vendor")
AXE = Parcel(
    name="axe-core",
    version="4.14.1",
    sha512="FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu"
    "5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ==",
    files={"axe.min.js": "package/axe.min.js", "axe.LICENSE": "package/LICENSE"},
)


def script() -> str:
    """The checker. Raises RuntimeError when it cannot be had."""
    problem = fetch(AXE, VENDOR)
    if problem:
        raise RuntimeError(f"the checker of the page cannot be had: {problem}")
    return (VENDOR / "axe.min.js").read_text(encoding="utf-8")


def barriers(page: Page, checker: str) -> list[str]:
    """The serious and critical issues of what the page shows now, each with the first place."""
    # What fades in has too little contrast for a moment.
    page.evaluate("Promise.all(document.getAnimations().map((moving) => moving.finished))")
    page.evaluate(checker)
    found = page.evaluate("axe.run({ resultTypes: ['violations'] })")
    return [
        f"{issue['id']} ({issue['impact']}): {issue['help']}: {issue['nodes'][0]['html'][:120]}"
        for issue in found["violations"]
        if issue["impact"] in GRAVE
    ]
