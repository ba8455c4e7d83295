"""Sun, sky, aim and air of a cook in words, for its report."""

from noonpot.core.cookreport import CookReport
from noonpot.core.markup import Markup
from noonpot.core.reportframe import pairs, paragraph, section
from noonpot.core.reportsky import Conditions, Range, conditions
from noonpot.core.reportwords import between
from noonpot.core.wording import Wording


def sky(report: CookReport) -> Markup:
    """The part of the report that tells under which sun, and in which air."""
    words, place, cooker = report.wording, report.place, report.cooker
    found = conditions(report.looks, cooker.acceptance_deg)
    boils = words.temperature(report.boiling_c)
    half = f"half the light is lost at {cooker.acceptance_deg:g}° beside it"
    facts = [
        ("sun", _range(found.elevation_deg, "° high")),
        ("sunlight", _range(found.irradiance_wm2, " W/m²") or "not measured"),
        ("under a clear sky", _range(found.clear_wm2, " W/m²") or "not computed"),
        ("sky", _sky(found)),
        ("misaim", _misaim(found, cooker.acceptance_deg)),
        ("air", _air(found, words) or "not measured"),
        ("place", f"{place.elevation_m:.0f} m high; water boils at {boils}"),
        ("cooker", f"{cooker.aperture_m2:g} m² face the sun; {half}"),
    ]
    note = "Sunlight is that on a level surface while the sun is up."
    return section("Conditions", pairs(facts), paragraph(note, kind="quiet"), whole=True)


def _range(told: Range | None, unit: str) -> str | None:
    return None if told is None else between(told.low, told.mean, told.high, unit)


def _sky(found: Conditions) -> str | None:
    share = found.clear_share
    if share is None:
        return "not known: no sensor measured sunlight"
    return (
        f"{share.mean:.0%} of a clear sky's light; eight moments in ten had {share.low:.0%} to "
        f"{share.high:.0%}"
    )


def _misaim(found: Conditions, acceptance_deg: float) -> str:
    misaim = found.misaim_deg
    if misaim is None or found.beyond is None:
        return "not known: no aim was told, or the sun was not computed"
    told = f"{misaim.mean:.0f}° on average, {misaim.high:.0f}° at most"
    if found.beyond >= 0.005:
        told += f"; {found.beyond:.0%} of the time beyond {acceptance_deg:g}°"
    if found.let_in is not None:
        told += f". By this it let in {found.let_in:.0%} of the direct light"
    return told


def _air(found: Conditions, words: Wording) -> str | None:
    air = found.ambient_c
    if air is None:
        return None
    low, mean, high = (words.temperature(value) for value in (air.low, air.mean, air.high))
    return f"{mean} on average, {low} to {high}"
