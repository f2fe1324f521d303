"""Files that go to others or come from them: values in, bytes out, and the other way round.

Nothing here knows the database or the command line.
"""
