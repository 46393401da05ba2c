"""What is asked of a password, and how it is kept."""

import hashlib

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.web import passwords
from firstlift.web.guessable import parts_of
from firstlift.web.passwords import BREACHED, check_password, fits, is_listed, keep_password

WORDS = "copper lantern drifts 7"


@pytest.mark.parametrize(
    "password",
    ["fourteen chars", "aaaaaaaaaaaaaaaaaa", "Ada Quillfeather", "ada-firstlift-1234", "x" * 129, "password12345678",
     "passwordpassword", "Football-2026-!!", "qwertyuiop123456", "1q2w3e4r5t6y7u8i9o", "q1w2e3r4t5y6u7i8o9p0",
     "zxcvbnmasdfghjkl", "P@ssw0rd-P@ssw0rd", "iloveyou1234567890", "abcdefghijklmnop", "MarrowBay-2026-xx",
     "maverickmaverick", "12345678901234567890", "QuillfeatherAda1985"],
)  # fmt: skip
def test_a_password_that_is_short_or_easily_guessed_is_refused(password):
    with pytest.raises(FirstliftError, match="WEB-006"):
        check_password(password, "Ada Quillfeather")


@pytest.mark.parametrize(
    "password",
    [WORDS, "seven grey herons wade", "correct horse battery staple", "tZ8-vq!Lm2#rWx9p", "zwölf boxkämpfer jagen",
     "семь серых цапель бредут", "七羽の灰色の鷺が浅瀬を静かに歩いている",
     "ada likes neither plums nor quinces", "x7" * 3 + "qm!vhtd-2kwzp",
     "one long line " + "of words that goes on and on until it has said what it came to say"],
)  # fmt: skip
def test_a_long_uncommon_password_of_any_letters_is_taken(password):
    check_password(password, "Ada Quillfeather")


def test_no_kind_of_character_is_asked_for():
    for password in ("herons wade in grey water", "HERONS WADE IN GREY WATER"):
        check_password(password, "Ada Quillfeather")


def test_parts_are_words_walks_runs_and_repeats():
    assert [parts_of(text) for text in ("password", "qwerty", "4321", "dragonfly!!")] == [1, 1, 1, 5]
    assert parts_of("ada", ["Ada"]) == 1
    assert parts_of("passwordpassword") == 1
    assert parts_of("tZ8-vq!L") == 8


def test_the_owners_list_of_breached_passwords_is_looked_at(tmp_path):
    listed = [f"listed password number {number}" for number in range(200)]
    lines = sorted(hashlib.sha1(text.encode()).hexdigest().upper() for text in listed)
    for form in ("{}", "{}:{}"):
        (tmp_path / BREACHED).write_text("".join(form.format(one, 3) + "\n" for one in lines), encoding="ascii")
        assert all(is_listed(text, tmp_path / BREACHED) for text in listed)
        assert not is_listed(WORDS, tmp_path / BREACHED)
    with pytest.raises(FirstliftError, match="breach"):
        check_password("listed password number 7", "Ada", tmp_path)
    check_password(WORDS, "Ada", tmp_path)
    (tmp_path / BREACHED).write_bytes(b"")
    assert not is_listed(WORDS, tmp_path / BREACHED)
    assert not is_listed(WORDS, tmp_path / "nowhere")


def test_a_password_is_kept_by_scrypt_as_strong_as_advised():
    kept = keep_password(WORDS)
    assert kept.startswith("scrypt-32768-8-3$")
    assert fits(WORDS, kept)


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(passwords, "_N", 2**8)


def test_a_password_is_kept_salted_and_found_again_whole(quick):
    one, other = keep_password(WORDS), keep_password(WORDS)
    assert one != other
    assert fits(WORDS, one)
    assert not fits(WORDS + " ", one)
    assert not fits(WORDS.upper(), one)
    long = "x" * 127
    assert not fits(long + "b", keep_password(long + "a"))


def test_a_letter_typed_in_two_ways_is_one_letter(quick):
    assert fits("zwo\u0308lf boxkämpfer jagen", keep_password("zwölf boxkämpfer jagen"))
