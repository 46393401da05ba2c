"""Sign-ins come along with a backup and back with it; what must not come back stays behind."""

import sqlite3

from tests.web.app_server import served
from tests.web.test_people import ADA, WORDS, give, sign_in

from firstlift.cli.main import main
from firstlift.store.open import open_store
from firstlift.store.sign_ins import ACCOUNTS
from firstlift.web import passwords
from firstlift.web.here import COOKIE
from firstlift.web.roles import Role
from firstlift.web.settings import Settings
from firstlift.web.tokens import Scope


def test_a_register_comes_back_with_its_sign_ins_and_without_its_sessions(
    shared, store, register, tmp_path, capsys, monkeypatch
):
    monkeypatch.setattr(passwords, "_N", 2**8)
    give(shared, store, ADA, Role.TECHNICIAN)
    token = shared.app.state.tokens.make("maintenance", [Scope.VALVES], "program:test")
    sign_in(shared)
    session = shared.client.cookies[COOKIE]
    # while the app runs and Ada works
    assert main(["backup", str(tmp_path / "copy"), "--store", str(register)]) == 0
    assert "with the app's sign-ins of 1 person; their sessions stay behind" in capsys.readouterr().out
    assert main(["restore", str(tmp_path / "copy"), "--store", str(tmp_path / "back")]) == 0
    assert "sign-ins of 1 person" in capsys.readouterr().out
    for folder in ("copy", "back"):
        path = tmp_path / folder / ACCOUNTS
        assert path.stat().st_mode & 0o077 == 0
        with sqlite3.connect(path) as connection:
            rows = [connection.execute(f"SELECT COUNT(*) FROM {name}").fetchone() for name in ("session", "device")]
        connection.close()
        assert rows == [(0,), (0,)]
    came_back = open_store(tmp_path / "back")
    with served(came_back, Settings(tmp_path / "back" / ACCOUNTS, sign_in=True)) as browser:
        browser.client.cookies.set(COOKIE, session)
        assert "Sign in" in browser.get("/").text
        assert "overdue" in sign_in(browser, password=WORDS).text
        headers = {"Authorization": f"Bearer {token}"}
        assert browser.get("/api/v1/valves", headers=headers).status_code == 200
    came_back.close()


def test_an_export_says_that_sign_ins_are_no_part_of_it(register, tmp_path, capsys):
    assert main(["export", str(tmp_path / "out"), "--store", str(register)]) == 0
    assert "sign-ins are no part of an export" in capsys.readouterr().out
    assert not list((tmp_path / "out").rglob(ACCOUNTS))
    assert main(["restore", str(tmp_path / "out"), "--store", str(tmp_path / "back")]) == 0
    assert "no sign-ins in it" in capsys.readouterr().out


def test_a_file_of_sign_ins_that_is_damaged_stops_the_backup_and_leaves_nothing(register, tmp_path, capsys):
    (register / ACCOUNTS).write_bytes(b"no database at all, but long enough to be looked at" * 40)
    assert main(["backup", str(tmp_path / "copy"), "--store", str(register)]) == 3
    assert "sign-ins cannot be copied" in capsys.readouterr().err
    assert not (tmp_path / "copy").exists()
