"""The guard's shell: gather what the tick may know, act on what it says, keep records."""
