-- Of one score several parts can be on a student's stand for one horn: a stand is of a part.
CREATE TABLE stand_new (
    id INTEGER PRIMARY KEY,
    student_id INTEGER NOT NULL REFERENCES student (id) ON DELETE CASCADE,
    horn_id INTEGER NOT NULL REFERENCES horn (id) ON DELETE CASCADE,
    score_id INTEGER NOT NULL REFERENCES score (id) ON DELETE CASCADE,
    part TEXT,                                  -- NULL: the one that is read unasked
    part_name TEXT NOT NULL DEFAULT '',         -- as the score calls it; '': not looked up
    voice TEXT,
    tempo_qpm REAL NOT NULL DEFAULT 80 CHECK (tempo_qpm BETWEEN 10 AND 500),
    small_notes INTEGER NOT NULL DEFAULT 0,
    -- How a part sounds whose file states no transposition: NULL as written, with a warning where
    -- its name says otherwise; else as-written or Bb-treble.
    sounds TEXT CHECK (sounds IN ('as-written', 'Bb-treble')),
    edits_done INTEGER NOT NULL DEFAULT 0,      -- edits up to here are in force; later ones undone
    -- The written note up to which the teacher has looked at all places; NULL: not said.
    seen_to INTEGER CHECK (seen_to IS NULL OR seen_to >= 0),
    -- What was learnt when the part was put on the stand; NULL: the student's profile as it is.
    learnt_id INTEGER REFERENCES learnt (id) ON DELETE SET NULL,
    created_at TEXT NOT NULL,
    opened_at TEXT NOT NULL
) STRICT;
INSERT INTO stand_new (id, student_id, horn_id, score_id, part, voice, tempo_qpm, small_notes,
    sounds, edits_done, seen_to, learnt_id, created_at, opened_at)
SELECT id, student_id, horn_id, score_id, part, voice, tempo_qpm, small_notes,
    sounds, edits_done, seen_to, learnt_id, created_at, opened_at FROM stand;
DROP TABLE stand;
ALTER TABLE stand_new RENAME TO stand;
CREATE INDEX stand_score ON stand (score_id);
CREATE INDEX stand_learnt ON stand (learnt_id);
CREATE UNIQUE INDEX stand_of ON stand (student_id, horn_id, score_id, ifnull(part, ''));

-- Which part of its score a take was played from; NULL: not known, or played freely.
ALTER TABLE take ADD COLUMN part TEXT;
UPDATE take SET part = (SELECT stand.part FROM stand JOIN horn_version AS version
    ON version.horn_id = stand.horn_id WHERE version.id = take.horn_version_id
    AND stand.student_id = take.student_id AND stand.score_id = take.score_id);
