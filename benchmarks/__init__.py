"""What the project promises, measured: `python -m benchmarks` runs all, `python -m benchmarks.NAME` one."""
