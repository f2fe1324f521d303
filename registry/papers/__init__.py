"""Papers that are drawn: values in, bytes out. Only this room and `labels` draw."""
