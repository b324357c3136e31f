"""The table ``setting``: what was chosen for the whole studio."""

from handslide.edges.store.connection import Connection


def find_setting(db: Connection, key: str) -> str | None:
    """A setting as text, None where nothing was chosen."""
    row = db.execute("SELECT value FROM setting WHERE key = ?", (key,)).fetchone()
    return None if row is None else str(row["value"])


def put_setting(db: Connection, key: str, value: str) -> None:
    """Keep a setting."""
    db.execute(
        "INSERT INTO setting (key, value) VALUES (?, ?) "
        "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
        (key, value),
    )
