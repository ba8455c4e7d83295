"""How long the endurance suites run: in short among all tests, at full length by
`make test-endurance`. Figures and chance are those of the fault suites.
"""

import os

from faults.extent import Tell, chance

__all__ = ["FULL", "Tell", "chance"]

FULL = os.environ.get("NOONPOT_ENDURANCE") == "full"
