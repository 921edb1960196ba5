"""Pure decisions: from raw samples to commands.  Read `step` first."""
