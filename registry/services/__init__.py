"""One function for each thing a grower does: rows and values in, values out, never a commit."""
