"""The page: what the guard has written, for a browser.  It reads, and switches nothing."""
