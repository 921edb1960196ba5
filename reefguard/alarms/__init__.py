"""Alarms, pure: conditions in, states and transitions out, by ANSI/ISA-18.2 and IEC 62682."""
