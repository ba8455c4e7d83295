"""The report of a cooker, and the picture of its table, out of what its cooks say."""

from collections.abc import Sequence
from datetime import datetime

from noonpot.app.rating import Rater
from noonpot.app.seasons import Season
from noonpot.core.ratereport import RateReport, page
from noonpot.core.recommendation import Cell
from noonpot.core.seasonpicture import titled
from noonpot.core.wording import Wording


def html(
    rater: Rater,
    wording: Wording,
    now: datetime,
    season: Season | None = None,
    cells: Sequence[Cell] = (),
) -> str:
    """The report as a page that needs nothing else, with the table of foods where there is one."""
    return page(
        RateReport(
            cooker=rater.spec,
            made_at=now,
            wording=wording,
            profile=rater.profile,
            power=rater.power(),
            merit=rater.merit(),
            profile_before=rater.profile_before,
            changes=rater.changes,
            cells=cells,
            basis=None if season is None else season.basis,
        )
    )


def svg(season: Season, cells: Sequence[Cell]) -> str:
    """The table of foods as a picture."""
    return titled(season.spec.name, cells, season.basis)
