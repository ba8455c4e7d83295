"""``noonpot run``."""

from noonpot.app import running
from noonpot.cli.options import DEFAULT_CONFIG, ConfigOption


def run(config: ConfigOption = DEFAULT_CONFIG) -> None:
    """Watch the cookers until told to stop: the daemon."""
    running.run(config)
