"""Every error a person may be shown. Each sentence says what, which value, and what to do.

A failed *reading* is not an error: it is a value, see ``core.readings.Defect``.
"""


class NoonpotError(Exception):
    """Root of all errors that Noonpot raises on purpose."""


class ConfigError(NoonpotError, ValueError):
    """The configuration cannot be used. ``mistakes`` lists all that is wrong, a sentence each."""

    def __init__(self, file: str, mistakes: list[str]) -> None:
        self.file = file
        self.mistakes = mistakes
        super().__init__("\n".join(f"{file}: {mistake}" for mistake in mistakes))


class RecordingError(NoonpotError, ValueError):
    """A recording cannot be read; the sentence names the line."""


class WeatherError(NoonpotError, ValueError):
    """A weather file cannot be used; the sentence names the line."""


class CookError(NoonpotError, ValueError):
    """What was asked of a cook does not fit it, for instance unloading an empty pot."""


class BusError(NoonpotError, OSError):
    """A bus cannot be opened at all; the sentence names the driver, the option and the cure."""


class StoreError(NoonpotError, OSError):
    """The data file cannot be used."""


class StoreFullError(StoreError):
    """The card has no room left for the data file."""


class StoreUnwritableError(StoreError):
    """The card refuses to be written, or fails."""


class StoreDamagedError(StoreError):
    """What stands in the data file cannot be right."""


class NewerStoreError(StoreError):
    """The data file was written by a newer Noonpot and is left untouched."""


class SunTableError(NoonpotError, RuntimeError):
    """The day table of sun and clear sky could not be computed."""


class PictureError(NoonpotError, RuntimeError):
    """A picture cannot be drawn here."""


class NotifierError(NoonpotError, RuntimeError):
    """A way to reach people is set up wrongly."""


class UplinkError(NoonpotError, RuntimeError):
    """The time-series server is no help; ``retry`` tells whether waiting can be."""

    def __init__(self, message: str, *, retry: bool) -> None:
        self.retry = retry
        super().__init__(message)


class RequestError(NoonpotError, ValueError):
    """What was asked of the page cannot be had; ``status`` is the number of the HTTP answer."""

    def __init__(self, status: int, message: str) -> None:
        self.status = status
        super().__init__(message)
