"""What was entered while the network or the power was gone, and becomes of it what the same entry becomes otherwise."""
