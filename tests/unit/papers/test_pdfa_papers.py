"""The papers of a job and labels held to PDF/A by a validator (tests/pdfa.py)."""

import datetime as dt

import pytest
from tests.pdfa import faults

from firstlift.certificate.labels import Label, render_labels
from firstlift.certificate.papers.typeset import typeset_paper

from .test_typeset_papers import MAKERS


@pytest.mark.parametrize("kind", MAKERS)
def test_a_paper_conforms(store, kind):
    assert faults(typeset_paper(MAKERS[kind](store))) == []


def test_a_label_conforms():
    label = Label("PSV-1", (("serial", "S-1"), ("set", "10 bar")), "North", "firstlift:valve/1", "1")
    assert faults(render_labels([label], day=dt.date(2026, 5, 12)), "2b") == []
