"""What may happen if the valve opens fully: flow, reaction, noise, jet, and how far people keep away.

Pressures in this room's formulas are absolute where the name says so (``_abs``), for the sources write them so;
everything that comes in or goes out of the sheet is gauge.
"""

from firstlift.core.hazard.inputs import ATMOSPHERE_PA, Fluid, HazardInputs
from firstlift.core.hazard.sheet import HazardSheet, hazard_sheet

__all__ = ["ATMOSPHERE_PA", "Fluid", "HazardInputs", "HazardSheet", "hazard_sheet"]
