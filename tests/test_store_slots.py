"""Two slots: whatever byte the power goes at, what is read afterwards is the old body or the new one.

Units: bytes; record numbers.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.store.journal import Journal
from sunhob_board.store.slots import Slots


class PowerCut(BaseException):
    """The supply is gone."""


class Disk:
    """Files in memory that lose power after `left` bytes written; how a cut file looks is the `kind`.

    in_place: opened empty, then byte by byte. at_close: unchanged until closed. over: the old bytes stay
    beyond the cut. Opening for writing costs one byte of `left`, so that this moment is cut at too.
    """

    def __init__(self, kind):
        self.kind = kind
        self.files = {}
        self.left = None

    def open(self, path, mode):
        if mode == "rb" and path not in self.files:
            raise OSError(2)
        return _File(self, path, mode)

    def spend(self):
        if self.left is not None:
            if self.left == 0:
                raise PowerCut
            self.left -= 1


class _File:
    def __init__(self, disk, path, mode):
        self.disk, self.path, self.at = disk, path, 0
        self.new = b""
        self.writing = mode == "wb"
        self.old = disk.files.get(path, b"")
        if self.writing:
            disk.spend()
            if disk.kind == "in_place":
                disk.files[path] = b""

    def read(self, count):
        got = self.old[self.at:self.at + count]
        self.at += len(got)
        return got

    def write(self, data):
        for i in range(len(data)):
            self.disk.spend()
            self.new += data[i:i + 1]
            if self.disk.kind == "in_place":
                self.disk.files[self.path] = self.new
            elif self.disk.kind == "over":
                self.disk.files[self.path] = self.new + self.old[len(self.new):]
        return len(data)

    def __enter__(self):
        return self

    def __exit__(self, kind, *_):
        if self.writing and kind is None:
            self.disk.spend()
            self.disk.files[self.path] = self.new


KINDS = ("in_place", "at_close", "over")


@pytest.mark.parametrize("kind", KINDS)
@given(bodies=st.lists(st.binary(max_size=24), min_size=1, max_size=5), start=st.integers(0, 0xFFFF))
def test_a_cut_at_every_byte_leaves_old_or_new(kind, bodies, start):
    disk = Disk(kind)
    slots = Slots("/x/", disk.open)
    old = None
    for body in bodies:
        before = dict(disk.files)
        for cut in range(len(body) + 12):
            disk.files = dict(before)
            disk.left = cut
            try:
                done = slots.save("s", body)
            except PowerCut:
                done = False
            disk.left = None
            got = Slots("/x/", disk.open).load("s")
            assert got == body if done else got in (old, body)
            # and the next save after the cut works, and survives a cut at its start
            assert slots.save("s", b"next") and slots.load("s") == b"next"
        disk.files = before
        assert slots.save("s", body)
        old = body


def test_the_sequence_wraps():
    disk = Disk("in_place")
    slots = Slots("", disk.open)
    for i in range(0x10000 + 20):
        if i % 4096 < 20 or i > 0xFFF0:
            assert slots.save("s", b"%d" % i) and slots.load("s") == b"%d" % i
        else:
            slots.save("s", b"%d" % i)
    assert set(disk.files) == {"s.a", "s.b"}


def test_what_is_unchanged_is_not_written_again():
    slots = Slots("", Disk("in_place").open)
    assert slots.save("s", b"") and slots.load("s") == b""
    assert all(slots.save("s", b"1") for _ in range(9))
    assert slots.writes == 2


@given(st.binary(min_size=1, max_size=30), st.data())
def test_a_rotten_slot_falls_back_to_the_other(body, data):
    disk = Disk("in_place")
    slots = Slots("", disk.open)
    slots.save("s", b"older" + body)
    slots.save("s", body)
    name = "s.b"
    raw = bytearray(disk.files[name])
    raw[data.draw(st.integers(0, len(raw) - 1))] ^= data.draw(st.integers(1, 255))
    disk.files[name] = bytes(raw)
    assert slots.load("s") == b"older" + body
    assert slots.save("s", b"new") and slots.load("s") == b"new"


def test_a_full_disk_or_a_large_body_is_told():
    def full(path, mode):
        raise OSError(28)
    assert Slots("", full).save("s", b"x") is False
    assert Slots("", full).load("s") is None
    assert Slots("", Disk("at_close").open).save("s", b"x" * 20_000) is False


@given(st.lists(st.tuples(st.integers(0, 40), *[st.integers(-2**40, 2**40)] * 2, st.integers(0, 36524),
                          st.integers(0, 86_399_999)), max_size=60), st.integers(0, 70), st.integers(1, 16))
def test_the_journal_keeps_the_last_and_survives_a_restart(events, start, count):
    journal, slots = Journal(16), Slots("", Disk("at_close").open)
    for event in events:
        journal.add(*event)
    clamp = [max(-2**31, min(2**31 - 1, v)) for e in events for v in e]
    rows = [[i, *clamp[5 * i:5 * i + 5]] for i in range(len(events))]
    kept = rows[-16:] if rows else []
    wanted = [r for r in kept if r[0] >= start][:count]
    assert journal.read(start, count) == (wanted if start >= journal.first else kept[:count])
    assert journal.save(slots)
    again = Journal(16)
    assert again.load(slots) == bool(events)
    assert again.read(0, 99) == kept and again.total == len(events) and not again.dirty
    assert not Journal(8).load(slots)
