"""The certificate: a pure page model, its typesetting to PDF/A-3b, its signature, and how it is verified."""

from firstlift.certificate.make import Made, Sources, make_certificate, render_certificate
from firstlift.certificate.model import CertificateDetails, Document, Person
from firstlift.certificate.page import build_certificate
from firstlift.certificate.settings import PaperSettings, read_settings
from firstlift.certificate.typeset import typeset

__all__ = [
    "CertificateDetails",
    "Document",
    "Made",
    "PaperSettings",
    "Person",
    "Sources",
    "build_certificate",
    "make_certificate",
    "read_settings",
    "render_certificate",
    "typeset",
]
