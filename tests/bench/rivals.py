"""Two simple ways to forecast, to measure against: the straight line and the single lag."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def _recent(times_s: Floats, values: Floats, span_s: float) -> tuple[Floats, Floats]:
    rows = (times_s > times_s[-1] - span_s) & np.isfinite(values)
    return times_s[rows], values[rows]


def straight_line(times_s: Floats, core_c: Floats, target_c: float) -> float | None:
    """Seconds from the last row until a line through the last ten minutes meets the target."""
    t, core = _recent(times_s, core_c, 600.0)
    if len(t) < 3:
        return None
    slope, here = np.polyfit(t - times_s[-1], core, 1)
    if here >= target_c:
        return 0.0
    return float((target_c - here) / slope) if slope > 1e-5 else None


def single_lag(times_s: Floats, core_c: Floats, pot_c: Floats, target_c: float) -> float | None:
    """Seconds until a core that follows the pot with one time constant, fitted to the last hour,
    meets the target, the pot held at the mean of its last ten minutes."""
    rows = (times_s > times_s[-1] - 3600.0) & np.isfinite(core_c) & np.isfinite(pot_c)
    t, core, pot = times_s[rows], core_c[rows], pot_c[rows]
    if len(t) < 10:
        return None
    step = max(len(t) // 6, 1)
    rise = (core[step:] - core[:-step]) / (t[step:] - t[:-step])
    lead = np.array([np.mean(pot[i : i + step] - core[i : i + step]) for i in range(len(t) - step)])
    rate = float(lead @ rise / max(lead @ lead, 1e-9))
    _, last = _recent(times_s, pot_c, 600.0)
    final = float(last.mean()) if len(last) else float("nan")
    here = float(core[-5:].mean())
    if here >= target_c:
        return 0.0
    if not (rate > 1e-7 and final > target_c):
        return None
    return float(np.log((final - here) / (final - target_c)) / rate)
