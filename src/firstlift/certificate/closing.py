"""Sections that close a certificate: what was not tested, cautions, statement, signatures."""

from __future__ import annotations

from firstlift.certificate.model import Bullets, Paragraph, Section, Signatures

NOT_PROVED = (
    "discharge capacity, full lift and the lift stop",
    "blowdown, and the pressure at which the valve shuts after a full discharge",
    "tightness of the seat at 90 % of set pressure",
    "free inlet and outlet pipes, drains and vents",
    "that bellows, rings and springs are sound inside",
)
CAUTIONS = (
    "Whether an assisted-lift test may stand for a full-pressure test is for the owner and the authority in charge "
    "to say.",
    "Closure seen after a pull shows that the disc went back to its seat; it is not a pressure.",
    "The result rests on the seat area stated above. An area taken too large reads low and leads to a spring set too "
    "high.",
    "The result holds for the temperature and back pressure of the test. Compare with later tests at like conditions.",
    "After any adjustment test again as left, then seal the adjusting screw.",
    "Limits are given in our own words. Confirm them against the licensed edition of the code.",
)
STATEMENT = (
    "The results relate only to the item tested, in the state in which it was tested. Values are printed rounded and "
    "were judged unrounded. All pressures are gauge. This certificate is not changed after issue: a correction is a "
    "new certificate that names this one. It may be copied only as a whole."
)


def closing() -> tuple[Section, ...]:
    """Give the closing sections.

    Returns
    -------
    tuple of Section
    """
    return (
        Section(
            "What this test does not prove",
            (
                Paragraph("The spindle was pulled while the plant was at pressure. Such a test says nothing about:"),
                Bullets(NOT_PROVED),
            ),
            together=True,
        ),
        Section("Cautions", (Bullets(CAUTIONS),), together=True),
        Section(
            "Statement and signatures", (Paragraph(STATEMENT), Signatures(("Tested by", "Reviewed by"))), together=True
        ),
    )
