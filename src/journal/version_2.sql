-- The journal, version 2: what came into the call beside what came of it, so that a call can be played again.

-- A text that a call was given: a score, or words that scores are written in. Once for each text.
CREATE TABLE texts (
  link INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL UNIQUE,
  text TEXT NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER texts_no_update BEFORE UPDATE ON texts BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER texts_no_delete BEFORE DELETE ON texts BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- What came into the call, in order, and now and then what was told of it; `body` is JSON.
CREATE TABLE inputs (
  link INTEGER PRIMARY KEY,
  session INTEGER NOT NULL REFERENCES sessions (session),
  server_us INTEGER NOT NULL,
  body TEXT NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER inputs_no_update BEFORE UPDATE ON inputs BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER inputs_no_delete BEFORE DELETE ON inputs BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

CREATE INDEX inputs_of_session ON inputs (session);
