"""The settings file: strict YAML in, settings or problems out.

Nothing here opens a file or looks at a clock.  `reading.read` takes the text;
the commands that call it find the file.  Start with `fields.py`, which
declares every key; then `rules.py` for what the values must be to each other,
and `findings.py` for what is allowed and probably a mistake.  `model.py` is
what comes out; importing it loads none of the reading.

A tank plan (`plan_reading.read_plan`) is a second kind of file, or the section
`plan` of the settings: `plan_fields.py` declares its keys, `plan_rules.py` and
`plan_model.py` do for it what `rules.py` and `model.py` do for the settings.
"""
