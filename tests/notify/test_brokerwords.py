"""Why a broker cannot be used: the words for what a test broker cannot be made to say."""

import ssl

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from noonpot.notify import brokerwords


def untrusted(code: int, message: str) -> ssl.SSLCertVerificationError:
    error = ssl.SSLCertVerificationError(1, message)
    error.verify_code, error.verify_message = code, message
    return error


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (
            untrusted(9, "certificate is not yet valid"),
            "not yet valid; check the clock",
        ),
        (
            untrusted(10, "certificate has expired"),
            "has expired; check the clock",
        ),
        (untrusted(62, "Hostname mismatch"), "Hostname mismatch; check host and tls_ca"),
        (ssl.SSLError(1, "wrong version number"), "no encrypted connection to hut port 8883"),
        (TimeoutError("timed out"), "hut port 8883 does not answer in time"),
        (OSError(113, "No route to host"), "hut port 8883 cannot be reached: [Errno 113] No route"),
    ],
)
def test_each_failure_to_connect_names_its_cure(error: OSError, words: str) -> None:
    assert words in brokerwords.unreachable(error, "hut", 8883)


def test_a_broker_without_mqtt_5_suggests_the_older_protocol() -> None:
    reason = ReasonCode(PacketTypes.CONNACK, "Unsupported protocol version")
    assert 'try protocol = "3.1.1"' in brokerwords.refused(reason, None)


def test_another_refusal_is_passed_on() -> None:
    reason = ReasonCode(PacketTypes.CONNACK, "Server busy")
    assert brokerwords.refused(reason, "cook") == "the broker refuses the connection: Server busy"
