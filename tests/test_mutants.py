"""The planted bugs of `make mutants` still fit the sources they are planted in. No units."""

import pytest

from .mutants import MUTANTS, ROOT


@pytest.mark.parametrize(("file", "text", "instead", "test"), MUTANTS)
def test_each_planted_bug_finds_its_place(file, text, instead, test):
    assert text in (ROOT / file).read_text(encoding="utf-8")
    assert text != instead and (ROOT / test).exists()
