"""Facts by topic: each module has the messages of one, by kind."""
