"""What weighs on a forecast, in words."""

from datetime import UTC, datetime

from noonpot.core.cooklog import Loaded
from noonpot.core.outlook import Outlook
from noonpot.core.wording import Wording

THIN = 0.5
"""Above this clear-sky index one speaks of thin cloud."""
BESIDE_DEG = 15.0
TOLD_S = 120.0
"""Less than this is not worth a word."""


def reasons(outlook: Outlook, loaded: Loaded, wording: Wording) -> tuple[str, ...]:
    """Sentences, the most lasting reason first."""
    told = [loaded.words] if loaded.words else []
    if not outlook.core_read:
        told.append("the core is an estimate: no probe is in the food")
    if not outlook.pot_read:
        told.append("the pot is an estimate: its probe tells nothing")
    index, cloud = outlook.clear_sky_index, outlook.cloud
    if index is not None and cloud is not None:
        kind = "thin or broken cloud" if index > THIN else "thick cloud"
        since = wording.clock(datetime.fromtimestamp(cloud.since_s, UTC))
        cost = ""
        if cloud.cost_s is not None and cloud.cost_s >= TOLD_S:
            cost = f" costs {cloud.cost_s / 60:.0f} min"
        told.append(f"{kind} since {since}{cost}: the sky gives {index:.0%} of a clear one")
    if outlook.misaim_deg is not None and outlook.misaim_deg > BESIDE_DEG:
        saved = outlook.turn_saves_s or 0.0
        gain = f": turning it now saves {saved / 60:.0f} min" if saved >= TOLD_S else ""
        told.append(f"the cooker points {outlook.misaim_deg:.0f}° beside the sun{gain}")
    return tuple(told)
