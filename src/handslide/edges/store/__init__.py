"""The studio's database and its copies (SQLite): the only SQL."""
