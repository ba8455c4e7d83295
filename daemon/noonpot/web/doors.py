"""Who is let in: sessions of those who know the passphrase, and guests with a read-only link."""

import hashlib
import hmac
import secrets
from collections import OrderedDict
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie

from noonpot.ports import Clock
from noonpot.web.house import Access
from noonpot.web.keyring import Keyring, quick

SESSION = "noonpot"
GUEST = "noonpot-guest"
SESSION_S = 12 * 3600.0
MOST_SESSIONS = 50


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever asks. ``token`` is what a change must bring along, ``shared`` whether he came by a
    link.
    """

    may_read: bool
    may_write: bool
    shared: bool
    token: str


class Doors:
    """Knows visitors by their cookies. Raises StoreError when the keys cannot be read."""

    def __init__(self, access: Access, keys: Keyring, life: Clock) -> None:
        self._access = access
        self._keys = keys
        self._life = life
        self._sessions: OrderedDict[str, tuple[float, str]] = OrderedDict()
        self._secret = secrets.token_bytes(32)

    @property
    def locked(self) -> bool:
        """Whether one must sign in."""
        return not self._access.local or bool(self._keys.issue)

    @property
    def first_run(self) -> bool:
        """Whether a passphrase must be chosen first."""
        return self.locked and not self._keys.issue

    def visitor(self, cookie: str, authorization: str = "") -> Visitor:
        """Who comes with these headers: a person with cookies, or a program with the secret of a
        read-only link as its bearer token.
        """
        if not self.locked:
            return Visitor(may_read=True, may_write=True, shared=False, token=self._token(""))
        cookies = _cookies(cookie)
        session = cookies.get(SESSION, "")
        if self._signed_in(session):
            token = self._token(session)
            return Visitor(may_read=True, may_write=True, shared=False, token=token)
        guest = _bearer(authorization) or cookies.get(GUEST, "")
        shared = bool(guest) and self._keys.link_of(guest) is not None
        return Visitor(may_read=shared, may_write=False, shared=shared, token=self._token(""))

    def sign_in(self) -> str:
        """A new session for who has told the passphrase; returns its cookie."""
        session = secrets.token_urlsafe(32)
        ends_s = self._life.moment().mono_s + SESSION_S
        self._sessions[quick(session)] = (ends_s, self._keys.issue)
        if len(self._sessions) > MOST_SESSIONS:
            self._sessions.popitem(last=False)
        return session

    def sign_out(self, cookie: str) -> None:
        """End the session of these cookies."""
        self._sessions.pop(quick(_cookies(cookie).get(SESSION, "")), None)

    def _signed_in(self, session: str) -> bool:
        known = self._sessions.get(quick(session)) if session else None
        if known is None:
            return False
        ends_s, issue = known
        return self._life.moment().mono_s < ends_s and issue == self._keys.issue

    def _token(self, session: str) -> str:
        """Follows from the session, so that each has its own, and none must be kept."""
        return hmac.new(self._secret, session.encode(), hashlib.sha256).hexdigest()[:32]


def _bearer(header: str) -> str:
    """The token of an Authorization header (RFC 6750), "" when there is none."""
    scheme, _, token = header.partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


def _cookies(header: str) -> dict[str, str]:
    try:
        return {name: morsel.value for name, morsel in SimpleCookie(header).items()}
    except CookieError:
        return {}
