"""What the review does, without a screen: the note in hand, its doubts, its words, picks and lessons.

Everything that `reviewer.screens` shows or does is a plain function here, so that a test reaches it
without a terminal. Nothing in this package imports Textual.
"""
