"""The courier: takes up new events and carries them to web-hooks, until they are taken.

References
----------
.. [1] "Standard Webhooks" 1.0.0 (memory): the headers webhook-id, webhook-timestamp and webhook-signature; the
   signature is HMAC-SHA256 over "id.timestamp.body" by the secret's bytes, written "v1," and base64.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import http.client
import json
import socket
import ssl
from collections.abc import Sequence
from dataclasses import asdict
from uuid import UUID

from firstlift import __version__
from firstlift.core.errors import FirstliftError
from firstlift.store.open import Store
from firstlift.usecases.register.place import now
from firstlift.web.deeds import APP, Deed, note
from firstlift.web.hooks.address import Network, Target, check_url
from firstlift.web.hooks.events import Event, events_after
from firstlift.web.hooks.kept import Delivery, Hook, Hooks
from firstlift.web.rounds import Rounds

_TIMEOUT_S = 10.0
_AT_A_TIME = 200
_GONE = 410
_LONGEST_ANSWER = 65536


class Courier(Rounds):
    """Carries events; one of them for a store at a time.

    Parameters
    ----------
    store : Store
    hooks : Hooks
    networks : sequence of network
        Of one's own that messages may go to.
    """

    def __init__(self, store: Store, hooks: Hooks, networks: Sequence[Network]) -> None:
        super().__init__("web-hooks", _TIMEOUT_S + 1.0)
        self._store = store
        self._hooks = hooks
        self._networks = networks

    def go_once(self) -> int:
        """Take up what is new and try what is due; gives how many messages were taken."""
        for hook in self._hooks.every():
            self._take_up(hook)
        return sum(self._carry(one) for one in self._hooks.due() if not self._stopped.is_set())

    def _take_up(self, hook: Hook) -> None:
        with self._store.read() as reader:
            if Hooks.head(reader) <= hook.seen:
                return
            found, seen = events_after(reader, hook.seen, _AT_A_TIME)
        told = [(event.id, body_of(event)) for event in found if event.type in hook.events]
        self._hooks.take_up(hook.id, told, seen)

    def _carry(self, one: Delivery) -> int:
        try:
            status = send(check_url(one.hook.url, self._networks), one)
        except FirstliftError as error:
            said, status = error.problems[0].what, 0
        except (OSError, http.client.HTTPException) as error:
            said, status = f"no answer: {type(error).__name__}", 0
        else:
            said = f"answered {status}"
        if 200 <= status < 300:
            self._hooks.arrived(one, said)
            return 1
        if status == _GONE:
            self._hooks.end(one.hook.id)
            self._note(Deed.HOOK_ENDED, one.hook.id)
        elif not self._hooks.failed(one, said):
            self._note(Deed.HOOK_GAVE_UP, one.hook.id, event=one.event_id)
        return 0

    def _note(self, deed: Deed, hook_id: UUID, **said: str) -> None:
        note(self._store, deed, who=APP, about=hook_id, **said)


def body_of(event: Event) -> str:
    """Write what is sent of an event.

    Parameters
    ----------
    event : Event

    Returns
    -------
    str
        JSON.
    """
    data = {key: value for key, value in asdict(event).items() if key not in ("type", "timestamp")}
    told = {"type": event.type, "timestamp": event.timestamp.isoformat(), "data": data}
    return json.dumps(told, default=str, ensure_ascii=False, separators=(",", ":"))


def signature(secret: str, event_id: str, timestamp: int, body: str) -> str:
    """Sign a message.

    Parameters
    ----------
    secret : str
        "whsec_" and base64.
    event_id : str
    timestamp : int, [s] since 1970
    body : str

    Returns
    -------
    str
        "v1," and base64.
    """
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = f"{event_id}.{timestamp}.{body}".encode()
    return "v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()


def send(target: Target, one: Delivery) -> int:
    """Send a message; no redirect is followed, and nothing of the answer is kept but its status.

    Parameters
    ----------
    target : Target
    one : Delivery

    Returns
    -------
    int
        The status.

    Raises
    ------
    OSError, HTTPException
        No answer, or none that can be read.
    """
    timestamp = int(now().timestamp())
    headers = {
        "Content-Type": "application/json; charset=utf-8",
        "User-Agent": f"Firstlift/{__version__}",
        "webhook-id": one.event_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signature(one.hook.secret, one.event_id, timestamp, one.body),
    }
    connection = http.client.HTTPConnection(target.host, target.port, timeout=_TIMEOUT_S)
    # the address that was looked at, not the name again; the name still has to stand in the certificate
    connection.sock = socket.create_connection((target.address, target.port), timeout=_TIMEOUT_S)
    try:
        if target.secure:
            context = ssl.create_default_context()
            connection.sock = context.wrap_socket(connection.sock, server_hostname=target.host)
            connection.default_port = http.client.HTTPS_PORT
        connection.request("POST", target.path, one.body.encode(), headers)
        answer = connection.getresponse()
        answer.read(_LONGEST_ANSWER)
        return answer.status
    finally:
        connection.close()
