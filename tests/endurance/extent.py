"""How long the endurance suites run: in short among all tests, at full length by
`make test-endurance`.
"""

import os
import random
from collections.abc import Callable

Tell = Callable[[int, str, str, str], None]
"""Notes a figure: number of the row, what is promised, what was measured, and its bar."""
FULL = os.environ.get("NOONPOT_ENDURANCE") == "full"


def chance() -> random.Random:
    """A source of chance whose seed is printed; NOONPOT_SEED gives one again."""
    seed = int(os.environ.get("NOONPOT_SEED") or random.randrange(2**32))
    print(f"NOONPOT_SEED={seed}")
    return random.Random(seed)
