"""The nesting engine: parts on sheets, usable alone. Depends on `geometry` only."""
