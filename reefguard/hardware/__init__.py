"""The world behind ports: the real devices, and nothing else opens one."""
