"""What a comparison of two sides says, to a person and to a machine."""

from collections.abc import Iterator, Mapping

from noonpot.core.comparison import PAIRS, Comparison


def comparison_lines(found: Comparison) -> Iterator[str]:
    """A comparison for a person."""
    days = f"{found.pairs} day{'' if found.pairs == 1 else 's'}"
    if found.more_w is None or found.first_w is None or found.second_w is None:
        yield (
            f"{found.second} against {found.first}: not enough cooks yet. There "
            f"{'is' if found.pairs == 1 else 'are'} {days} on which both can be rated; it takes "
            f"{PAIRS}."
        )
        return
    more = found.more_w
    yield (
        f"{found.second} against {found.first}, on {days} when both cooked: "
        f"{found.second_w:.0f} W against {found.first_w:.0f} W at 50 K and 700 W/m²"
    )
    yield (
        f"  {more.value:+.0f} W (95 %: {more.low:+.0f} to {more.high:+.0f} W): "
        + ("a real difference." if found.real else "may be chance; cook on more days.")
    )


def comparison_json(found: Comparison) -> Mapping[str, object]:
    """A comparison for a machine."""
    more = found.more_w
    return {
        "first": found.first,
        "second": found.second,
        "days": found.pairs,
        "enough": more is not None,
        "first_w": found.first_w,
        "second_w": found.second_w,
        "more_w": None if more is None else more.value,
        "more_low_w": None if more is None else more.low,
        "more_high_w": None if more is None else more.high,
        "real": found.real,
    }
