"""Cut-ups: moments of film for any sheet or search, as lists for an editor or as clips."""
