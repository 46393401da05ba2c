"""A short campaign of changed bytes; the thousand is `python tools/byte_campaign.py`."""

import pytest
from tools import byte_campaign

CHANGES = 40


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bytes")
    made = byte_campaign.make_case(folder, byte_campaign.analysed_demo(folder, until_s=16.0))
    yield made
    made.store.close()


def test_every_changed_byte_is_noticed(case):
    figures = byte_campaign.campaign(case, CHANGES, 20260512)
    assert (figures["covered_missed_count"], figures["other_missed_count"]) == (0, 0)
    assert figures["covered_signature_refused_count"] + figures["covered_unreadable_count"] == CHANGES
    # most of the file is compressed pages and data: there it is the signature that refuses, not the reader
    assert figures["covered_signature_refused_count"] > 0.8 * CHANGES
    assert figures["file_bytes_count"] > 50 * figures["other_bytes_count"]


def test_the_signatures_padding_is_seen_by_the_register_alone(case):
    _, others = case.places()
    at = next(at for at in reversed(others) if case.signed[at : at + 1] == b"0")
    changed = case.signed[:at] + b"1" + case.signed[at + 1 :]
    assert byte_campaign.validator_says(changed, case.key) == "valid"
    assert not byte_campaign.register_says(changed, case)


def test_a_change_that_nobody_notices_is_counted(case, monkeypatch):
    monkeypatch.setattr(byte_campaign, "changed", lambda data, at, rng: data)
    figures = byte_campaign.campaign(case, 2, 1)
    assert (figures["covered_missed_count"], figures["other_missed_count"]) == (2, 2)
