-- A studio: students, horns with their history, parts, what stands open for whom, takes.
-- Times are ISO 8601 in UTC; lists and reports are JSON.
CREATE TABLE setting (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE student (
    id INTEGER PRIMARY KEY,
    -- The same in all backups and archives, whatever the id: what is erased is found by it.
    uid TEXT NOT NULL DEFAULT (lower(hex(randomblob(16)))),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    about TEXT NOT NULL DEFAULT '',
    reach REAL CHECK (reach IS NULL OR reach BETWEEN 1 AND 12),
    learned TEXT,                               -- JSON list of valves; NULL: all that the horn has
    clef TEXT,                                  -- NULL: the usual one of the horn
    names TEXT NOT NULL DEFAULT 'english',
    marks TEXT NOT NULL DEFAULT '',
    profile TEXT NOT NULL DEFAULT 'classical',
    show TEXT NOT NULL DEFAULT 'all',
    consent_note TEXT,                          -- who agreed to recordings, and how
    consent_on TEXT,
    keep_recordings INTEGER NOT NULL DEFAULT 0 CHECK (keep_recordings IN (0, 1)),
    example INTEGER NOT NULL DEFAULT 0,
    archived_at TEXT,
    created_at TEXT NOT NULL,
    CHECK (keep_recordings = 0 OR length(trim(coalesce(consent_note, ''))) > 0)
) STRICT;

CREATE TABLE horn (
    id INTEGER PRIMARY KEY,
    student_id INTEGER NOT NULL REFERENCES student (id) ON DELETE CASCADE,
    title TEXT NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    base TEXT NOT NULL,                         -- the horn of ours that it began from
    a4_hz REAL NOT NULL DEFAULT 440 CHECK (a4_hz BETWEEN 380 AND 500),
    temp_c REAL,                                -- NULL: that of the horn's description
    main INTEGER NOT NULL DEFAULT 1,            -- the horn that is played unless another is chosen
    archived_at TEXT,
    created_at TEXT NOT NULL
) STRICT;
CREATE INDEX horn_of ON horn (student_id);

-- A horn's history: the newest version is the one in use; none is ever overwritten.
CREATE TABLE horn_version (
    id INTEGER PRIMARY KEY,
    horn_id INTEGER NOT NULL REFERENCES horn (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    toml TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('model', 'edit', 'fit', 'tuning', 'restored', 'import')),
    words TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    UNIQUE (horn_id, number)
) STRICT;

CREATE TABLE score (
    id INTEGER PRIMARY KEY,
    title TEXT NOT NULL,
    composer TEXT NOT NULL DEFAULT '',
    file_name TEXT NOT NULL,
    data BLOB NOT NULL,
    digest TEXT NOT NULL UNIQUE,                -- SHA-256 of data
    example INTEGER NOT NULL DEFAULT 0,
    archived_at TEXT,
    created_at TEXT NOT NULL
) STRICT;

-- A part on a student's stand, for one horn: choices and their undo history.
CREATE TABLE stand (
    id INTEGER PRIMARY KEY,
    student_id INTEGER NOT NULL REFERENCES student (id) ON DELETE CASCADE,
    horn_id INTEGER NOT NULL REFERENCES horn (id) ON DELETE CASCADE,
    score_id INTEGER NOT NULL REFERENCES score (id) ON DELETE CASCADE,
    part TEXT,
    voice TEXT,
    tempo_qpm REAL NOT NULL DEFAULT 80 CHECK (tempo_qpm BETWEEN 10 AND 500),
    small_notes INTEGER NOT NULL DEFAULT 0,
    edits_done INTEGER NOT NULL DEFAULT 0,      -- edits up to here are in force; later ones undone
    created_at TEXT NOT NULL,
    opened_at TEXT NOT NULL,
    UNIQUE (student_id, horn_id, score_id)
) STRICT;
CREATE INDEX stand_score ON stand (score_id);

CREATE TABLE stand_lock (
    stand_id INTEGER NOT NULL REFERENCES stand (id) ON DELETE CASCADE,
    note INTEGER NOT NULL,                      -- index of the written note
    valves TEXT NOT NULL,                       -- JSON list
    partial INTEGER NOT NULL,
    PRIMARY KEY (stand_id, note)
) STRICT;

CREATE TABLE stand_edit (
    stand_id INTEGER NOT NULL REFERENCES stand (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,                    -- from 1
    changes TEXT NOT NULL,                      -- JSON list of [note, before, after]; places or null
    made_at TEXT NOT NULL,
    PRIMARY KEY (stand_id, number)
) STRICT;

CREATE TABLE take (
    id INTEGER PRIMARY KEY,
    student_id INTEGER NOT NULL REFERENCES student (id) ON DELETE CASCADE,
    horn_version_id INTEGER REFERENCES horn_version (id) ON DELETE SET NULL,
    score_id INTEGER REFERENCES score (id) ON DELETE SET NULL,
    title TEXT NOT NULL,
    source TEXT NOT NULL CHECK (source IN ('microphone', 'file', 'example')),
    a4_hz REAL NOT NULL,
    length_s REAL NOT NULL,
    report TEXT NOT NULL,                       -- JSON of what the page of the take shows
    recorded_at TEXT NOT NULL,
    created_at TEXT NOT NULL
) STRICT;
CREATE INDEX take_of ON take (student_id, recorded_at);

CREATE TABLE take_note (
    take_id INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    measure TEXT,
    midi INTEGER NOT NULL,
    valves TEXT,                                -- JSON list; NULL with partial: no place known
    partial INTEGER,
    extension_mm REAL,
    mark TEXT,
    played TEXT NOT NULL,                       -- right, wrong, missing, octave, unsure, free
    cents REAL,
    cents_se REAL,
    spread_cents REAL,
    slide_mm REAL,                              -- beyond the place (positive: too far out)
    slide_se_mm REAL,
    start_s REAL,
    end_s REAL,
    f0_hz REAL,
    PRIMARY KEY (take_id, number)
) STRICT;

-- Kept only for students with a note of consent.
CREATE TABLE recording (
    take_id INTEGER PRIMARY KEY REFERENCES take (id) ON DELETE CASCADE,
    media_type TEXT NOT NULL,
    data BLOB NOT NULL,
    created_at TEXT NOT NULL
) STRICT;
