"""Why a broker cannot be used, in words: what happened, and what to do."""

import socket
import ssl

from paho.mqtt.reasoncodes import ReasonCode

# Codes of OpenSSL's verification, openssl/x509_vfy.h
NOT_YET_VALID, EXPIRED = 9, 10

LOGIN = ("Not authorized", "Bad user name or password")


def unreachable(error: BaseException | None, host: str, port: int) -> str:
    """Why no connection could be opened."""
    broker = f"{host} port {port}"
    match error:
        case ssl.SSLCertVerificationError():
            dated = error.verify_code in (NOT_YET_VALID, EXPIRED)
            cure = "check the clock of this machine" if dated else "check host and tls_ca"
            return f"the certificate of {broker} is not trusted: {error.verify_message}; {cure}"
        case ssl.SSLError():
            return f"no encrypted connection to {broker}: {error}; check port and tls_ca"
        case ConnectionResetError():
            return f"{broker} hangs up; check port, and leave out tls_ca if it does not encrypt"
        case socket.gaierror():
            return f"the name {host} is not known to the network; check host"
        case ConnectionRefusedError():
            return f"no broker answers at {broker}; check that it runs, host and port"
        case TimeoutError():
            return f"{broker} does not answer in time; check the network, host and port"
        case _:
            return f"{broker} cannot be reached: {error}"


def refused(reason: ReasonCode, username: str | None) -> str:
    """Why the broker did not let us in."""
    name = reason.getName()
    if name in LOGIN:
        who = f"the login of {username!r}" if username else "a login without a name"
        return f"the broker refuses {who}: {name}; check username and password"
    if name == "Unsupported protocol version":
        return f'the broker refuses the connection: {name}; try protocol = "3.1.1"'
    return f"the broker refuses the connection: {name}"


def broken(reason: ReasonCode, client_id: str) -> str:
    """Why a connection ended that had been open. Brokers seldom say that another client of the same
    name pushed us out, so that is always worth a hint.
    """
    return (
        f"the connection to the broker broke: {reason.getName()}; if this goes on, look whether "
        f"another client calls itself {client_id!r}"
    )


def unanswered(host: str, port: int) -> str:
    """Why a connection ended before the broker had answered at all."""
    return f"{host} port {port} hangs up without an answer; check port, and tls_ca if it encrypts"


def unaccepted(reason: ReasonCode) -> str:
    """Why the broker did not take an alert."""
    return f"the broker refuses the alert: {reason.getName()}; check what this user may write"
