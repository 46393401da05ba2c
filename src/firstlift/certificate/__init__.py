"""The certificate: a pure page model, and its typesetting to PDF/A-3b."""

from firstlift.certificate.model import CertificateDetails, Document
from firstlift.certificate.page import build_certificate
from firstlift.certificate.typeset import render_certificate, typeset

__all__ = ["CertificateDetails", "Document", "build_certificate", "render_certificate", "typeset"]
