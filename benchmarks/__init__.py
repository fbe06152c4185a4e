"""Measurements that the project promises, each a command: `python -m benchmarks.NAME`."""
