-- What is learnt from a teacher's choices, and only with the teacher's yes (setting: learning).
CREATE TABLE learnt (
    id INTEGER PRIMARY KEY,
    -- Its place in what can be undone and done again; NULL: left behind, kept for stands that have it.
    number INTEGER UNIQUE,
    factors TEXT NOT NULL,                      -- JSON: by what weights of the horn's profile change
    told TEXT NOT NULL,                         -- JSON: from what it was learnt, what was noticed
    made_at TEXT NOT NULL
) STRICT;

-- The written note up to which the teacher has looked at all places; NULL: not said.
ALTER TABLE stand ADD COLUMN seen_to INTEGER CHECK (seen_to IS NULL OR seen_to >= 0);
-- What was learnt when the part was put on the stand; NULL: the student's profile as it is.
ALTER TABLE stand ADD COLUMN learnt_id INTEGER REFERENCES learnt (id) ON DELETE SET NULL;
CREATE INDEX stand_learnt ON stand (learnt_id);

-- Choices that nothing is learnt from: made before the teacher's yes, or forgotten since.
CREATE TABLE stand_unlearnt (
    stand_id INTEGER NOT NULL REFERENCES stand (id) ON DELETE CASCADE,
    note INTEGER NOT NULL,
    PRIMARY KEY (stand_id, note)
) STRICT;

-- Which would you write? Two ways to play some notes of a part, and the one that was picked.
CREATE TABLE answer (
    id INTEGER PRIMARY KEY,
    stand_id INTEGER NOT NULL REFERENCES stand (id) ON DELETE CASCADE,
    notes TEXT NOT NULL,                        -- JSON list of written notes
    first TEXT NOT NULL,                        -- JSON list of places
    second TEXT NOT NULL,
    picked INTEGER NOT NULL CHECK (picked IN (0, 1, 2)),     -- 0: neither
    made_at TEXT NOT NULL
) STRICT;
CREATE INDEX answer_of ON answer (stand_id);
