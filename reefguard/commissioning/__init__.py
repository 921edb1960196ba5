"""Each part proven before it is trusted: what the guided commands decide and put on record.  Pure."""
