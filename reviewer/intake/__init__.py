"""What comes from outside a recording: rosters, games, play lists, and whole sample seasons."""
