"""Records out of a store and into one: plain fields, lines of JSON, tables."""
