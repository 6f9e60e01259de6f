"""Errors that end a command with one plain line and an exit code (exit codes are plain numbers, no unit)."""

from __future__ import annotations


class SunhobError(Exception):
    """Any error shown as one line; `exit_code` (no unit) is what the command ends with."""

    exit_code = 2


class UserError(SunhobError):
    """The input cannot be used: a file, a value or an option is wrong. Exit code 2."""

    exit_code = 2


class LinkError(UserError):
    """The board, or the file written for it, could not be reached or did not answer. Exit code 3."""

    exit_code = 3


class Judged(SunhobError):
    """The input was read and understood, and what it describes fails a check. Exit code 1."""

    exit_code = 1
