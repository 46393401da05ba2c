"""The strictest look at PDF/A that these tests have: pikepdf's validator, which knows the 419 rules of veraPDF.

It approves only what it recognises. What it says it cannot judge, and what it does not know to be allowed, is listed
here with the reason; anything else that it finds is a fault.
"""

import io

from pikepdf.pdfa import validate_written

# ISO 19005-3:2012, 6.6.2.3.2 and 6.6.2.3.3: metadata may use other schemas where a description of them is embedded, in
# these very namespaces; the validator's list ends at the predefined ones
DESCRIBED = (
    "xmpTPg=",
    "pdfaExtension=",
    "pdfaSchema=",
    "pdfaProperty=",
    "pdfaExtension:schemas",
    ":NPages",
    "/t/pg/ is",
)
NOT_JUDGED = (
    # of the typesetter's own subsets: whether the program's matrix, its set of glyphs and the file's history are right
    "CFF FDArray FontMatrix is not supported",
    "/CIDSet on a CIDFontType2 subset is not checked",
    "xmpMM:History is not checked",
    # what the signature adds: its field and its permissions, looked at in test_signed.py
    "interactive forms (/AcroForm) are not supported",
    "permissions (/Perms) are not supported",
    # what a certificate carries: names, types and relationships are looked at in test_signed.py
    "embedded files are not supported",
)


def faults(data, flavour="3b"):
    """Give what the validator finds in a file beyond what it cannot judge."""
    found = validate_written(io.BytesIO(data), flavour).findings
    said = [f"{one.rule} {one.where}: {one.message}" for one in found]
    return [words for words in said if not any(known in words for known in (*DESCRIBED, *NOT_JUDGED))]
