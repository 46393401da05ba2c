"""The words of the papers of a job: none is kept that nobody speaks."""

import re
from pathlib import Path

from firstlift.certificate.papers.back import STEPS
from firstlift.core.register.work import WhyNot
from firstlift.words.job_papers_en import JOB_WORDS
from firstlift.words.paper_en import WORDS

SOURCE = Path(__file__).parents[3] / "src" / "firstlift"
FILES = (
    *sorted((SOURCE / "certificate" / "papers").glob("*.py")),
    *(SOURCE / p for p in ("certificate/labels.py", "usecases/labels.py", "words/fields.py")),
)
TEXT = "\n".join(path.read_text(encoding="utf-8") for path in FILES)
AMISS = ("high", "low", "stuck", "stayed-open", "leaked", "lower-bound", "unfit")


def spoken():
    found = set(re.findall(r'"([a-z][a-z0-9-]*(?:\.[a-z0-9-]+)*)"', TEXT)) & JOB_WORDS.keys()
    found |= {f"back.{step}" for step in STEPS} | {f"why-not.{why}" for why in WhyNot}
    found |= {f"nonconformity.{what}{end}" for what in AMISS for end in ("", "-means")}
    found |= {f"packet.{go}" for go in ("go", "ask", "no-go")} | {f"visit.check-{when}" for when in ("before", "after")}
    found |= {key for key in JOB_WORDS if key.startswith("packet.read.")}
    return found | {key for key in JOB_WORDS if re.fullmatch(r"(packet\.bring|nonconformity\.(now|decide))\.\d", key)}


def test_no_words_are_kept_that_nobody_speaks():
    assert sorted(JOB_WORDS.keys() - spoken()) == []


def test_every_key_that_is_made_of_parts_is_there():
    assert sorted(spoken() - JOB_WORDS.keys()) == []


def test_they_stand_in_the_table_of_the_certificate():
    assert JOB_WORDS.items() <= WORDS.items()
