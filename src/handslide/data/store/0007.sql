-- Plans of practice over weeks; the newest one of a student holds, those before can come back.
CREATE TABLE plan (
    id INTEGER PRIMARY KEY,
    student_id INTEGER NOT NULL REFERENCES student (id) ON DELETE CASCADE,
    start_on TEXT NOT NULL,
    weeks INTEGER NOT NULL,
    minutes INTEGER NOT NULL,
    level TEXT NOT NULL,
    seed INTEGER NOT NULL,
    created_at TEXT NOT NULL
) STRICT;
CREATE INDEX plan_student ON plan (student_id);
-- What was ticked by hand, or (0) a take's tick taken off; all else is told from the takes.
CREATE TABLE plan_tick (
    plan_id INTEGER NOT NULL REFERENCES plan (id) ON DELETE CASCADE,
    day INTEGER NOT NULL,
    item TEXT NOT NULL,
    ticked INTEGER NOT NULL,
    PRIMARY KEY (plan_id, day, item)
) STRICT;
