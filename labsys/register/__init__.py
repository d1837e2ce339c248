"""The chemical register: what is in the lab, what it can do, where it is, and who may have met it."""
