-- Parts that came as PDF: what a teacher says instead of what was read from the pages, by place, and
-- how it came to be said.
ALTER TABLE score ADD COLUMN pdf INTEGER NOT NULL DEFAULT 0 CHECK (pdf IN (0, 1));
-- Edits up to here are in force; later ones undone.
ALTER TABLE score ADD COLUMN corrections_done INTEGER NOT NULL DEFAULT 0;

CREATE TABLE correction (
    score_id INTEGER NOT NULL REFERENCES score (id) ON DELETE CASCADE,
    kind TEXT NOT NULL CHECK (kind IN ('clef', 'key', 'note', 'staff')),
    place TEXT NOT NULL,                        -- page.system or page.system.bar.item; '' the whole
    value TEXT NOT NULL,                        -- a note that is none: ''
    PRIMARY KEY (score_id, kind, place)
) STRICT;

CREATE TABLE correction_edit (
    score_id INTEGER NOT NULL REFERENCES score (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,                    -- from 1
    changes TEXT NOT NULL,                      -- JSON list of [kind, place, before, after]; or null
    made_at TEXT NOT NULL,
    PRIMARY KEY (score_id, number)
) STRICT;
