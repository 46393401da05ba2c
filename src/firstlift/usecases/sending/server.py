"""Hand one message to the mail server, and know whether it has it.

References
----------
.. [1] RFC 5321, 3.3, 4.2 and 4.5.2 (memory): a server has a message once it has answered its end with 250, not before;
   4xx is for now, 5xx for good; a point at a line's beginning is doubled.
.. [2] RFC 1047 (memory): where the answer to the end is lost, nobody knows whether the message will arrive. It is
   not sent again here unless a person says so.
.. [3] RFC 3207 and RFC 8314 (memory): STARTTLS, and TLS from the first byte. Whoever stands in between can take
   STARTTLS out of a server's answer: without it nothing is said here.
"""

from __future__ import annotations

import smtplib
import socket
import ssl
import struct
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum

from firstlift.usecases.sending.settings import MailServer, Security

_TIMEOUT_S = 30.0
# servers look at a whole message before they answer its end [1]_, 4.5.3.2.6
_ANSWER_S = 600.0
# where the system does not tell whether the other side has what was sent, little of it lies unsent in this machine, so
# that the end is not written into the blue
_BUFFER_BYTES = 65_536
_PIECE_BYTES = 32_768
# an address in the place of a name: the machine's own name would have to be asked of the net
_OWN_NAME = "[127.0.0.1]"
_TELLS = sys.platform == "linux"
_GO_ON = 354
_TAKEN = 250


class Outcome(StrEnum):
    """Why a message was not taken.

    ``offline``: nobody was reached. ``later``: not now. ``never``: not this message. ``sign-in``: the server does not
    take the user and password, and would not for another message either. ``unsure``: it may have been taken.
    """

    OFFLINE = "offline"
    LATER = "later"
    NEVER = "never"
    SIGN_IN = "sign-in"
    UNSURE = "unsure"


class NotTaken(Exception):  # noqa: N818  an outcome, and the usual one out in the field
    """The server has not taken a message."""

    def __init__(self, outcome: Outcome, said: str) -> None:
        super().__init__(said)
        self.outcome = outcome
        self.said = said


def hand_in(
    server: MailServer, password: str, sender: str, to: str, data: bytes, before_end: Callable[[], None]
) -> str:
    """Hand a message in.

    Parameters
    ----------
    server : MailServer
    password : str
    sender, to : str
        Addresses.
    data : bytes
        The message, lines ended by CR LF.
    before_end : callable
        Called once when all but the end has gone: from here on nobody knows until the server answers.

    Returns
    -------
    str
        What the server answered.

    Raises
    ------
    NotTaken
    """
    with _connected(server) as smtp:
        _check_size(smtp, data)
        _sign_in(smtp, server.user, password)
        _must(smtp.mail(sender, [f"SIZE={len(data)}"] if smtp.has_extn("size") else []), _TAKEN)
        _must(smtp.rcpt(to), _TAKEN, 251)
        _must(smtp.docmd("DATA"), _GO_ON)
        for piece in _pieces(data):
            smtp.send(piece)
        _check_gone(_socket_of(smtp))
        before_end()
        _socket_of(smtp).settimeout(_ANSWER_S)
        try:
            smtp.send(b".\r\n")
            answer = smtp.getreply()
        except (OSError, smtplib.SMTPException) as error:
            said = f"the connection broke before the server answered ({_name(error)})"
            raise NotTaken(Outcome.UNSURE, said) from error
        _must(answer, _TAKEN)
        with suppress(OSError, smtplib.SMTPException):
            smtp.quit()
        return _said(answer)


@contextmanager
def _connected(server: MailServer) -> Iterator[smtplib.SMTP]:
    """Give a way to the server that others cannot read, or none at all."""
    smtp: smtplib.SMTP | None = None
    try:
        try:
            context = _context(server)
            if server.security is Security.TLS:
                smtp = smtplib.SMTP_SSL(server.host, server.port, _OWN_NAME, timeout=_TIMEOUT_S, context=context)
            else:
                smtp = smtplib.SMTP(server.host, server.port, _OWN_NAME, timeout=_TIMEOUT_S)
        except ssl.SSLError:
            raise
        except OSError as error:
            raise NotTaken(Outcome.OFFLINE, f"the server is not reached ({_name(error)})") from error
        if not _TELLS:
            _socket_of(smtp).setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _BUFFER_BYTES)
        smtp.ehlo_or_helo_if_needed()
        if server.security is Security.STARTTLS:
            _encrypt(smtp, context)
        yield smtp
    except ssl.SSLError as error:
        said = f"the server does not prove that it is {server.host}, or speaks no TLS that is safe ({error.reason})"
        raise NotTaken(Outcome.LATER, said) from error
    except smtplib.SMTPResponseException as error:
        raise _refused((error.smtp_code, _bytes(error.smtp_error))) from error
    except (OSError, smtplib.SMTPException) as error:
        # before the end of the message: no server keeps the half of one
        raise NotTaken(Outcome.LATER, f"the connection broke, nothing was sent ({_name(error)})") from error
    finally:
        if smtp is not None:
            smtp.close()


def _context(server: MailServer) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=None if server.ca_file is None else str(server.ca_file))
    except OSError as error:
        raise NotTaken(Outcome.SIGN_IN, f"ca_file cannot be read ({_name(error)})") from error
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def _encrypt(smtp: smtplib.SMTP, context: ssl.SSLContext) -> None:
    if not smtp.has_extn("starttls"):
        raise NotTaken(Outcome.LATER, "the server offers no encryption (STARTTLS); nothing was said to it")
    try:
        smtp.starttls(context=context)
    except smtplib.SMTPResponseException as error:
        said = _said((error.smtp_code, _bytes(error.smtp_error)))
        raise NotTaken(Outcome.LATER, f"the server refuses encryption: {said}; nothing was said to it") from error
    smtp.ehlo_or_helo_if_needed()


def _sign_in(smtp: smtplib.SMTP, user: str, password: str) -> None:
    if not user:
        return
    try:
        smtp.login(user, password)
    except smtplib.SMTPNotSupportedError as error:
        raise NotTaken(Outcome.SIGN_IN, "the server offers no sign-in") from error
    except UnicodeEncodeError as error:
        raise NotTaken(Outcome.SIGN_IN, "user or password hold letters that the protocol has not") from error
    except smtplib.SMTPAuthenticationError as error:
        said = _said((error.smtp_code, _bytes(error.smtp_error)))
        outcome = Outcome.LATER if error.smtp_code // 100 == 4 else Outcome.SIGN_IN
        raise NotTaken(outcome, f"the server does not take the sign-in: {said}") from error


def _check_size(smtp: smtplib.SMTP, data: bytes) -> None:
    most = smtp.esmtp_features.get("size", "").strip()
    if most.isdecimal() and 0 < int(most) < len(data):
        said = f"the message has {len(data) / 1e6:.1f} MB, the server takes {int(most) / 1e6:.1f} MB"
        raise NotTaken(Outcome.NEVER, said)


def _pieces(data: bytes) -> Iterator[bytes]:
    """Give a message in pieces, points at the beginning of lines doubled; a piece's time is its own."""
    whole = data if data.endswith(b"\r\n") else data + b"\r\n"
    dotted = (b"." if whole.startswith(b".") else b"") + whole.replace(b"\r\n.", b"\r\n..")
    for start in range(0, len(dotted), _PIECE_BYTES):
        yield dotted[start : start + _PIECE_BYTES]


def _check_gone(connection: socket.socket) -> None:
    """Wait until the other side has what was sent, where the system tells; raise where the connection is broken."""
    if not _TELLS:
        return
    import fcntl
    import termios

    ends, least = time.monotonic() + _TIMEOUT_S, sys.maxsize
    while True:
        broken = connection.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
        if broken:
            raise OSError(broken, "broken")
        left = struct.unpack("i", fcntl.ioctl(connection.fileno(), termios.TIOCOUTQ, b"\0" * 4))[0]
        if left == 0:
            return
        if left < least:
            ends, least = time.monotonic() + _TIMEOUT_S, left
        if time.monotonic() > ends:
            raise TimeoutError("the other side takes nothing more")
        time.sleep(0.01)


def _socket_of(smtp: smtplib.SMTP) -> socket.socket:
    assert smtp.sock is not None
    return smtp.sock


def _must(answer: tuple[int, bytes], *wanted: int) -> None:
    if answer[0] not in wanted:
        raise _refused(answer)


def _refused(answer: tuple[int, bytes]) -> NotTaken:
    if answer[0] <= 0:
        return NotTaken(Outcome.LATER, "the connection broke, nothing was sent")
    outcome = Outcome.NEVER if answer[0] // 100 == 5 else Outcome.LATER
    return NotTaken(outcome, f"the server answered {_said(answer)}")


def _said(answer: tuple[int, bytes]) -> str:
    text = " ".join(answer[1].decode("utf-8", "replace").split())
    return f"{answer[0]} {''.join(c if c.isprintable() else '?' for c in text)[:160]}".strip()


def _bytes(said: bytes | str) -> bytes:
    return said if isinstance(said, bytes) else said.encode()


def _name(error: BaseException) -> str:
    return getattr(error, "strerror", None) or type(error).__name__
