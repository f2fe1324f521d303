"""Where the registry is kept: tables, queries, the one transaction and its chain."""
