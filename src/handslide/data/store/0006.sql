-- Exercises of the teacher's own, each file as its text (docs/exercises.md).
CREATE TABLE exercises (
    id INTEGER PRIMARY KEY,
    title TEXT NOT NULL,
    text TEXT NOT NULL,
    archived_at TEXT,
    created_at TEXT NOT NULL,
    changed_at TEXT NOT NULL
) STRICT;
