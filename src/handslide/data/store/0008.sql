-- Which parts of a score are a slide player's, where the teacher knows better than names and clefs:
-- JSON list of their ids; NULL: as these tell.
ALTER TABLE score ADD COLUMN takes TEXT;
-- Folders that parts are taken in from: of this machine, or sent by a browser (then held in the
-- studio's folder until they are forgotten, and path is their name there).
CREATE TABLE folder (
    id INTEGER PRIMARY KEY,
    path TEXT NOT NULL,
    title TEXT NOT NULL,
    sent INTEGER NOT NULL DEFAULT 0 CHECK (sent IN (0, 1)),
    created_at TEXT NOT NULL,
    UNIQUE (path, sent)
) STRICT;
-- The files in them as they were last looked at.
CREATE TABLE folder_file (
    id INTEGER PRIMARY KEY,
    folder_id INTEGER NOT NULL REFERENCES folder (id) ON DELETE CASCADE,
    path TEXT NOT NULL,                         -- in the folder, with / between names
    size INTEGER NOT NULL,
    mtime_ns INTEGER NOT NULL,
    digest TEXT,                                -- SHA-256 of its bytes; NULL: they couldn't be read
    takes TEXT,                                 -- as of a score, said before it was taken in
    taken TEXT,                                 -- the digest that was taken in; NULL: none yet
    there INTEGER NOT NULL DEFAULT 1 CHECK (there IN (0, 1)),
    UNIQUE (folder_id, path)
) STRICT;
