"""The time-series server that knows the cookers of many stations."""

from pathlib import Path

from noonpot.errors import ConfigError
from noonpot.fleet.series import SeriesServer
from noonpot.settings.files import secret
from noonpot.settings.values import InfluxAccess


def configured(file: str, influx: InfluxAccess | None) -> SeriesServer:
    """The server of a configuration. Raises ConfigError when it names none."""
    if influx is None:
        raise ConfigError(file, ["it names no time-series server; add [influx], or give --url"])
    return SeriesServer(influx.url, influx.token)


def named(url: str, token_file: Path | None) -> SeriesServer:
    """The server that options name.

    Raises ConfigError when the file cannot be used, UplinkError when the address is none.
    """
    mistakes: list[str] = []
    token = (
        "" if token_file is None else secret("--token-file", str(token_file), Path.cwd(), mistakes)
    )
    if mistakes:
        raise ConfigError("noonpot stations compare", mistakes)
    return SeriesServer(url, token)
