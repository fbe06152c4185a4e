"""Reviewer: spoken film notes in, an honest grade sheet out."""

__version__ = "0.1.0"
