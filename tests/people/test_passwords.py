"""Passwords are looked at one after the other."""

import threading
import time

from django.conf import settings
from django.contrib.auth.hashers import Argon2PasswordHasher

from kitshare import settings as project
from kitshare.people.passwords import OneAtATime


def test_whoever_signs_in_at_once_is_looked_at_one_after_the_other(monkeypatch):
    inside, most = [], []

    def look(self, password, encoded):
        inside.append(password)
        most.append(len(inside))
        time.sleep(0.01)
        inside.pop()
        return True

    monkeypatch.setattr(Argon2PasswordHasher, "verify", look)
    people = [threading.Thread(target=OneAtATime().verify, args=("linnow", "")) for _person in range(8)]
    for person in people:
        person.start()
    for person in people:
        person.join()

    assert most == [1] * 8


def test_a_password_kept_before_is_known_and_is_no_weaker():
    kept = Argon2PasswordHasher().encode("linnow apples", "a salt that is long enough for this test")

    assert OneAtATime().verify("linnow apples", kept)
    assert not OneAtATime().verify("linnow pears", kept)
    assert not OneAtATime().must_update(kept)
    assert project.PASSWORD_HASHERS == ["kitshare.people.passwords.OneAtATime"]
    assert settings.PASSWORD_HASHERS != project.PASSWORD_HASHERS  # quick ones in tests
