"""What a chemical can do to a person or a drain, worked out from what the suppliers' sheets declare.

Pure: plain values in, plain values out. Every result is a calculated estimate; the supplier's safety data sheet decides
what is in the bottle, and the competent person decides what is done about it.
"""
