"""Looking back on a stretch of time: what the history and the events say of it, and what they do not."""
