"""Processes killed in the middle of their work, and what is left of it.

A kind of work is run in a child process of a warm server, killed with SIGKILL at a chosen moment, and
looked at. `python -m tests.kill` does it some hundred times; `tests/test_kill.py` a few times.
"""
