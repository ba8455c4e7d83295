"""A sign of life to somewhere outside, which raises the alarm when it fails to come."""

import http.client
import ssl
import urllib.error
import urllib.request
from dataclasses import dataclass, field

LIMIT_S = 10.0


@dataclass(frozen=True, slots=True)
class Ping:
    """Fetches an address again and again; what is there does not matter. The address is a secret:
    who knows it can keep the alarm from being raised. So it is in no word of this class.
    """

    url: str = field(repr=False)

    def send(self) -> str:
        """Fetch it once; returns why it failed in words, empty when it did not. Waits at most
        ``LIMIT_S`` for each answer of the network.
        """
        try:
            with urllib.request.urlopen(self.url, timeout=LIMIT_S):  # noqa: S310 - https? as checked
                return ""
        except urllib.error.HTTPError as error:
            error.close()
            return f"it answers {error.code}; check the address"
        except urllib.error.URLError as error:
            if isinstance(error.reason, ssl.SSLError):
                return "its certificate is not trusted; check the clock of this machine"
            return "it cannot be reached; check the network"
        except TimeoutError:
            return f"it does not answer within {LIMIT_S:.0f} s"
        except (http.client.HTTPException, OSError, ValueError) as error:
            return f"it cannot be used ({type(error).__name__}); check the address"
