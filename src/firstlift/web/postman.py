"""The postman: carries the outbox to the mail server that whoever runs the app has stated, and to no other."""

from __future__ import annotations

from firstlift.store.open import Store
from firstlift.store.outbox import Outbox
from firstlift.usecases.sending.carry import carry
from firstlift.usecases.sending.settings import MailSettings
from firstlift.web.deeds import APP
from firstlift.web.rounds import Rounds


class Postman(Rounds):
    """Carries messages; of several for one register one carries at a time.

    Parameters
    ----------
    store : Store
    outbox : Outbox
    mail : MailSettings or None
        None: what waits goes on waiting; what people did with messages is told all the same.
    """

    def __init__(self, store: Store, outbox: Outbox, mail: MailSettings | None) -> None:
        super().__init__("messages", 5.0)
        self._store = store
        self._outbox = outbox
        self._mail = mail

    def go_once(self) -> int:
        """Try what is due; gives how many messages were sent."""
        return carry(self._store, self._outbox, self._mail, who=APP, stopped=self._stopped.is_set)
