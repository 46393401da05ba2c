"""How a try to tell another system went, in the language of whoever looks; what is kept of it is English."""

from __future__ import annotations

import re

from firstlift.web.say import N_, _, whole

_ANSWERED, _NO_ANSWER = re.compile(r"answered (\d{3})"), re.compile(r"no answer: (\w+)")
_GAVE_UP, _REFUSED = "gave up: ", "messages may not go there: "
# why an address is refused, as `firstlift.web.hooks.address` says it
_WHY = (
    N_("it is no address"),
    N_("it is no plain address of the web"),
    N_("it is not encrypted"),
    N_("it does not lead to a public address"),
    N_("its name is not found"),
)


def outcome(said: str) -> str:
    """Say how the last try went.

    Parameters
    ----------
    said : str
        As it is kept.

    Returns
    -------
    str
        "" where the language has no words for it: then it is shown as it is kept.
    """
    if said.startswith(_GAVE_UP):
        why = outcome(said.removeprefix(_GAVE_UP))
        return _("gave up: %(why)s", why=why) if why else ""
    if answered := _ANSWERED.fullmatch(said):
        return _("answered %(status)s", status=whole(answered[1]))
    if lost := _NO_ANSWER.fullmatch(said):
        return _("no answer: %(error)s", error=whole(lost[1]))
    why = said.removeprefix(_REFUSED)
    return _("messages may not go there: %(why)s", why=_(why)) if why != said and why in _WHY else ""
