"""What `systemd/install` does, in steps.  Only the standard library: nothing is installed yet."""
