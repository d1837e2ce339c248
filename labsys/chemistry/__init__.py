"""Working-out for the darkroom: plain values in, plain values out; no database, no clock, no web."""
