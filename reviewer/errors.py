"""The errors a user can meet. Each message is one sentence: what is wrong, where, what to do.

ReviewerError            anything the user can put right; the command ends with exit code 2
+- InputError            a file or a value given by the user
+- ModelError            a speech model missing, damaged or unusable
+- LibraryError          the library folder or its database
+- SoundError            a microphone, speaker or audio backend
+- Stopped               a long pass was stopped by the user; what was done is kept
"""

from __future__ import annotations


class ReviewerError(Exception):
    """Base of everything a user can put right. `str()` is the sentence to show."""


class InputError(ReviewerError):
    """A file or value given by the user cannot be used."""


class ModelError(ReviewerError):
    """A speech model is missing, damaged or unusable."""


class LibraryError(ReviewerError):
    """The library folder or its database cannot be used."""


class SoundError(ReviewerError):
    """A microphone, speaker or audio backend cannot be used."""


class Stopped(ReviewerError):
    """The user stopped a long pass; the work done so far is kept and can be resumed."""
