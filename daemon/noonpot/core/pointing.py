"""Where to point a cooker, until when that holds, and what its present aim is worth."""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from noonpot.core.absence import Absence, LeftAim
from noonpot.core.cook import Aim
from noonpot.core.station import Place
from noonpot.core.sun import (
    DayTable,
    Shadow,
    angle_between,
    light_share,
    shadow,
    sun_is_up,
    sun_lost_at,
    tolerance_deg,
)


@dataclass(frozen=True, slots=True)
class PresentAim:
    """What the way a cooker points is worth now.

    ``misaim_deg`` is the angle between aim and sun [degrees], ``light_share`` the direct light as a
    share of a perfect aim [0 to 1]. ``holds_until`` is None when a turn is already worth while.
    """

    misaim_deg: float
    light_share: float
    holds_until: datetime | None


@dataclass(frozen=True, slots=True)
class PointingAdvice:
    """Where to point now.

    ``azimuth_true_deg`` and ``elevation_deg`` are the sun's, ``azimuth_magnetic_deg`` is what a
    compass shows [degrees]; so aimed, no turn is worth while before ``holds_until``. Pointed at
    ``ahead``, where the sun is yet to come, the cooker can be left alone until ``ahead_until``.
    """

    azimuth_true_deg: float
    azimuth_magnetic_deg: float
    elevation_deg: float
    shadow: Shadow
    holds_until: datetime
    ahead: Aim
    ahead_until: datetime
    present: PresentAim | None


@dataclass(frozen=True, slots=True)
class AbsenceAdvice:
    """How to leave a cooker alone.

    ``azimuth_magnetic_deg`` is what a compass shows for the ``best`` aim [degrees]; ``shadow`` is
    that of a peg now, None while the sun is not above level ground. The aim serves ``until`` the
    absence ends or the sun is lost. ``off_deg`` is how far from it the cooker points now [degrees],
    None when unknown.
    """

    best: LeftAim
    azimuth_magnetic_deg: float
    shadow: Shadow | None
    until: datetime
    off_deg: float | None


def advise(
    place: Place,
    table: DayTable,
    when: datetime,
    acceptance_deg: float,
    min_gain: float,
    aim: Aim | None,
    declination_deg: float,
) -> PointingAdvice | None:
    """Advice for one cooker, None while the sun is lost behind the horizon or below 5°.

    A turn is worth while once it would bring ``min_gain`` more direct light, 0.15 for 15 %.
    ``aim`` is the present one, None when unknown; ``declination_deg`` is positive where a compass
    points east of true north [degrees]. Raises ValueError when ``when`` is outside the table or a
    setting is not above 0.
    """
    sun = table.at(when)
    lost = sun_lost_at(table, place, when)
    if lost is None or not sun_is_up(sun, place.horizon):
        return None
    limit = tolerance_deg(acceptance_deg, min_gain)
    holds_until = _within_until(table, Aim(sun.azimuth_deg, sun.elevation_deg), limit, when, lost)
    # The sun comes up to an aim ahead as it goes away from an aim at itself, so the time doubles;
    # for the last turn of the day the middle of what is left has the smallest peak misaim.
    meeting = min(holds_until, when + (lost - when) / 2)
    met = table.at(meeting)
    ahead = Aim(met.azimuth_deg, met.elevation_deg)
    return PointingAdvice(
        azimuth_true_deg=sun.azimuth_deg,
        azimuth_magnetic_deg=(sun.azimuth_deg - declination_deg) % 360,
        elevation_deg=sun.elevation_deg,
        shadow=shadow(sun.azimuth_deg, sun.elevation_deg),
        holds_until=holds_until,
        ahead=ahead,
        ahead_until=_within_until(table, ahead, limit, meeting, lost),
        present=None if aim is None else _present(table, aim, acceptance_deg, limit, when, lost),
    )


def advise_absence(
    place: Place,
    table: DayTable,
    when: datetime,
    absence: Absence,
    best: LeftAim,
    aim: Aim | None,
    declination_deg: float,
) -> AbsenceAdvice:
    """How to carry out the best aim; the arguments are those of ``advise``. Raises ValueError when
    ``when`` or the absence is outside the table.
    """
    sun, there = table.at(when), best.aim
    since, until = (datetime.fromtimestamp(s, UTC) for s in (absence.since_s, absence.until_s))
    lost = sun_lost_at(table, place, since)
    return AbsenceAdvice(
        best=best,
        azimuth_magnetic_deg=(there.azimuth_deg - declination_deg) % 360,
        shadow=shadow(sun.azimuth_deg, sun.elevation_deg) if sun.elevation_deg > 0 else None,
        until=until if lost is None else min(until, lost),
        off_deg=None
        if aim is None
        else angle_between(
            aim.azimuth_deg, aim.elevation_deg, there.azimuth_deg, there.elevation_deg
        ),
    )


def _present(
    table: DayTable, aim: Aim, acceptance_deg: float, limit: float, when: datetime, lost: datetime
) -> PresentAim:
    sun = table.at(when)
    misaim = angle_between(aim.azimuth_deg, aim.elevation_deg, sun.azimuth_deg, sun.elevation_deg)
    holds_until = None if misaim > limit else _within_until(table, aim, limit, when, lost)
    return PresentAim(misaim, light_share(misaim, acceptance_deg), holds_until)


def _within_until(
    table: DayTable, aim: Aim, limit: float, start: datetime, lost: datetime
) -> datetime:
    """When the misaim, within the limit at the start, first exceeds it; at the latest ``lost``."""
    times = table.times_from(start)
    path = table.at_many(times)
    misaim = angle_between(aim.azimuth_deg, aim.elevation_deg, path.azimuth_deg, path.elevation_deg)
    beyond = np.flatnonzero(misaim > limit)
    if len(beyond) == 0:
        return lost
    after = max(1, beyond[0])  # 0 only by rounding, for a limit next to nothing
    around = slice(after - 1, after + 1)
    end_s = float(np.interp(limit, misaim[around], times[around]))
    return min(lost, datetime.fromtimestamp(end_s, UTC))
