"""Carries letters by SMTP (RFC 5321), to the server that EMAIL_URL names."""

from __future__ import annotations

import smtplib
import ssl
from contextlib import suppress
from email.message import EmailMessage
from typing import Protocol

from .carriers import RefusedForGood
from .message import message_of
from .models import Letter

# A letter takes about ten exchanges with the server: together well below the lease of a claim.
TIMEOUT = 20.0


class MailServer(Protocol):
    """Where letters are handed in. ``tls``: from the first byte; else by STARTTLS if offered."""

    @property
    def host(self) -> str: ...
    @property
    def port(self) -> int: ...
    @property
    def tls(self) -> bool: ...
    @property
    def user(self) -> str: ...
    @property
    def password(self) -> str: ...


class Smtp:
    """One connection for many letters; opened when the first one comes, anew after a failure."""

    def __init__(self, server: MailServer) -> None:
        self._server = server
        self._open: smtplib.SMTP | None = None

    def carry(self, letter: Letter) -> None:
        """Hand the letter in; returns once the server has taken it."""
        message = message_of(letter)
        try:
            connection = self._connection()
            connection.send_message(message, from_addr=_plain(message), to_addrs=[letter.to])
        except smtplib.SMTPRecipientsRefused as refused:
            self._reset()
            code, words = next(iter(refused.recipients.values()))
            raise _refusal(code, words) from refused
        except smtplib.SMTPDataError as refused:
            self._reset()
            raise _refusal(refused.smtp_code, refused.smtp_error) from refused
        except Exception:
            # Nobody knows what the server makes of a connection that broke: open another.
            self._drop()
            raise

    def close(self) -> None:
        """Say goodbye to the server."""
        if self._open is not None:
            with suppress(OSError, smtplib.SMTPException):
                self._open.quit()
        self._drop()

    def _connection(self) -> smtplib.SMTP:
        if self._open is None:
            self._open = _connected(self._server)
        return self._open

    def _reset(self) -> None:
        try:
            if self._open is not None:
                self._open.rset()
        except (OSError, smtplib.SMTPException):
            self._drop()

    def _drop(self) -> None:
        if self._open is not None:
            self._open.close()
        self._open = None


def _connected(server: MailServer) -> smtplib.SMTP:
    secure = ssl.create_default_context()
    if server.tls:
        connection: smtplib.SMTP = smtplib.SMTP_SSL(
            server.host, server.port, timeout=TIMEOUT, context=secure
        )
    else:
        connection = smtplib.SMTP(server.host, server.port, timeout=TIMEOUT)
    try:
        connection.ehlo()
        if not server.tls and connection.has_extn("starttls"):
            connection.starttls(context=secure)
            connection.ehlo()
        elif not server.tls and server.user:
            raise smtplib.SMTPNotSupportedError(
                "The mail server offers no TLS: the password is not sent in the clear."
            )
        if server.user:
            connection.login(server.user, server.password)
    except BaseException:
        connection.close()
        raise
    return connection


def _plain(message: EmailMessage) -> str:
    return str(message["From"].addresses[0].addr_spec)


def _refusal(code: int, words: bytes | str) -> Exception:
    said = words.decode(errors="replace") if isinstance(words, bytes) else words
    told = f"The mail server said {code}: {said}"
    return RefusedForGood(told) if 500 <= code < 600 else smtplib.SMTPResponseException(code, told)
