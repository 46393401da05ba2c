"""How far to turn the screw, whether anyone may, and what the last turns taught about this valve."""

from firstlift.core.adjust.advise import AdjustInputs, Advice, advise
from firstlift.core.adjust.allowed import Place
from firstlift.core.adjust.screw import Effect, Turned

__all__ = ["AdjustInputs", "Advice", "Effect", "Place", "Turned", "advise"]
