-- How a part sounds whose file states no transposition: NULL as written, with a warning where its
-- name says otherwise; else as-written or Bb-treble.
ALTER TABLE stand ADD COLUMN sounds TEXT CHECK (sounds IN ('as-written', 'Bb-treble'));
