"""Labels, cards and tags: stocks, layout, symbols, PDF and the reading of pictures.

Values in, bytes and files out; nothing here knows the database.
"""
