"""The permission engine: what may be done with a plant, and why."""
