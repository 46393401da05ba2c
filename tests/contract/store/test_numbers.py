"""Numbers of certificates without gaps: two processes at once, and processes that are ended on the way."""

import subprocess
import sys
from uuid import uuid4

import pytest
from tests.contract.store import entries as e

from firstlift.core.register.work import Certificate, CertificateState
from firstlift.store import numbering
from firstlift.store.audit import audit
from firstlift.store.files import keep_bytes, kept_path
from firstlift.store.open import create_store, open_store

# reserves numbers as fast as it can, and says each that was committed; where told so it ends on the way to one:
# with the number reserved and not committed, or committed and its file kept and not entered
WRITER = """
import os, sys
from uuid import uuid4
from tests.contract.store import entries as e
from firstlift.store import numbering
from firstlift.store.files import keep_bytes
from firstlift.store.open import open_store

place, times, end = sys.argv[1], int(sys.argv[2]), sys.argv[3]
store = open_store(place)
for index in range(times):
    last = index == times - 1
    with store.work(at=e.AT, who="program:test") as work:
        made = numbering.reserve_certificate(
            work, certificate_id=uuid4(), test_id=e.TEST.id, series="MB", zone="UTC"
        )
        if last and end == "uncommitted":
            os._exit(9)
    print(made.number, flush=True)
if end == "file-kept":
    with store.work(at=e.AT, who="program:test") as work:
        numbering.review_certificate(work, made.id, reviewer_id=None)
    kept = keep_bytes(store.folder, b"signed " * 99)
    with store.work(at=e.AT, who="program:test") as work:
        numbering.issue_certificate(work, made.id, unsigned_sha256="0" * 64, signed_sha256=kept)
        os._exit(9)
store.close()
"""


@pytest.fixture
def folder(tmp_path):
    store = create_store(tmp_path / "register", store_id=uuid4(), at=e.AT)
    with store.work(at=e.AT, who="program:test") as work:
        # without the check whose photograph is not there
        work.add_all(entry for entry in e.ALL[: e.ALL.index(e.TEST) + 1] if entry is not e.IDENTITY)
    store.close()
    return tmp_path / "register"


def writer(folder, times, end="well"):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), str(times), end], stdout=subprocess.PIPE, encoding="utf-8"
    )


def numbers(folder):
    store = open_store(folder)
    try:
        with store.read() as reader:
            assert audit(reader).faults == ()
            return sorted(one.number for one in reader.list(Certificate, series="MB"))
    finally:
        store.close()


def test_two_processes_at_once_leave_no_gap_and_share_no_number(folder):
    running = [writer(folder, 25) for _ in range(2)]
    said = [int(line) for each in running for line in each.communicate(timeout=120)[0].split()]
    assert [each.returncode for each in running] == [0, 0]
    assert sorted(said) == numbers(folder) == list(range(1, 51))


def test_a_number_that_was_not_committed_is_given_again(folder):
    ended = writer(folder, 3, "uncommitted")
    assert (ended.communicate(timeout=60)[0].split(), ended.returncode) == (["1", "2"], 9)
    assert numbers(folder) == [1, 2]
    assert writer(folder, 1).communicate(timeout=60)[0].split() == ["3"]
    assert numbers(folder) == [1, 2, 3]


def test_a_file_that_was_kept_but_not_entered_leaves_the_certificate_reviewed(folder):
    ended = writer(folder, 2, "file-kept")
    assert (ended.communicate(timeout=60)[0].split(), ended.returncode) == (["1", "2"], 9)
    store = open_store(folder)
    try:
        with store.read() as reader:
            (made,) = reader.list(Certificate, series="MB", number=2)
        assert (made.state, made.signed_sha256) == (CertificateState.REVIEWED, "")
        # issued again as if nothing had happened: the file is the same and stands once
        kept = keep_bytes(store.folder, b"signed " * 99)
        with store.work(at=e.AT, who="program:test") as work:
            numbering.issue_certificate(work, made.id, unsigned_sha256="0" * 64, signed_sha256=kept)
        assert kept_path(store.folder, kept).is_file()
        with store.read() as reader:
            assert reader.get(Certificate, made.id).state is CertificateState.ISSUED
    finally:
        store.close()
    assert numbers(folder) == [1, 2]
