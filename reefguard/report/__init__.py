"""Charts as SVG text, and self-contained HTML pages.  Pure: values in, text out; no file, no clock."""
