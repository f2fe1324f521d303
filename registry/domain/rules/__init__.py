"""The rules as data: each table names the statute, article or clause that it comes from.

Nothing here decides; `registry.domain.rights` and `registry.domain.verdict` read these tables.
Laws differ by place and change: the rights holder, the register and the local plant-health
authority decide. Values marked "from memory" were not checked against the text.
"""
