"""The demo's files: readable, repeatable, and marked as invented."""

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.demo.case import RECORDING, draw_demo_test, make_demo_case
from firstlift.formats.jobsheet import read_jobsheet, recording_path


def test_the_demo_case_reads_back_and_says_that_it_is_invented(tmp_path):
    sheet = make_demo_case(tmp_path / "demo", seed=4)
    text = sheet.read_text(encoding="utf-8")
    job = read_jobsheet(sheet)
    assert text.startswith("# Invented data")
    assert job.visit.owner == "Marrow Bay Energy"
    assert "invented" in job.seat.source
    assert job.channels == draw_demo_test(4).job.channels
    rows = recording_path(sheet, job).read_text(encoding="utf-8").splitlines()
    assert rows[0].split(",") == ["time_s", *(spec.column for spec in job.channels)]
    assert len(rows) == 1 + draw_demo_test(4).recording.samples


def test_same_seed_same_files_and_another_seed_others(tmp_path):
    first, again, other = (make_demo_case(tmp_path / str(n), seed=s) for n, s in enumerate((4, 4, 5)))
    texts = [(sheet.parent / RECORDING).read_bytes() for sheet in (first, again, other)]
    assert texts[0] == texts[1]
    assert texts[0] != texts[2]


@pytest.mark.parametrize("seed", range(6))
def test_every_demo_valve_lifts_three_times_and_closes(seed):
    pulls = draw_demo_test(seed).truth.pulls
    assert len(pulls) == 3
    assert all(pull.lifted and pull.closure_s is not None for pull in pulls)


def test_a_folder_that_is_a_file_is_told(tmp_path):
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    with pytest.raises(FirstliftError, match="DEM-001"):
        make_demo_case(tmp_path / "taken")
