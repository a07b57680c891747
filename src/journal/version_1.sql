-- The journal, version 1. Rows are only ever added. Over all tables together they form one chain: `link` numbers them
-- from 1 without a gap, and `seal` is SHA-256 over the seal before it and the row (see chain.rs).

-- A start of the server.
CREATE TABLE sessions (
  link INTEGER PRIMARY KEY,
  session INTEGER NOT NULL UNIQUE,
  utc TEXT NOT NULL,
  server TEXT NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER sessions_no_update BEFORE UPDATE ON sessions BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER sessions_no_delete BEFORE DELETE ON sessions BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- A clean close: how many rows there were before it, and the seal of the last of them.
CREATE TABLE session_ends (
  link INTEGER PRIMARY KEY,
  session INTEGER NOT NULL UNIQUE REFERENCES sessions (session),
  utc TEXT NOT NULL,
  events INTEGER NOT NULL,
  links INTEGER NOT NULL,
  last_seal BLOB NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER session_ends_no_update BEFORE UPDATE ON session_ends BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER session_ends_no_delete BEFORE DELETE ON session_ends BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- The text of a score, once for each text.
CREATE TABLE revisions (
  link INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL UNIQUE,
  fight TEXT NOT NULL,
  text TEXT NOT NULL,
  utc TEXT NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER revisions_no_update BEFORE UPDATE ON revisions BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER revisions_no_delete BEFORE DELETE ON revisions BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- The beginning of a run.
CREATE TABLE runs (
  link INTEGER PRIMARY KEY,
  run INTEGER NOT NULL UNIQUE,
  session INTEGER NOT NULL REFERENCES sessions (session),
  revision TEXT NOT NULL REFERENCES revisions (sha256),
  fight TEXT NOT NULL,
  from_phrase INTEGER NOT NULL,
  from_name TEXT NOT NULL,
  to_phrase INTEGER NOT NULL,
  to_name TEXT NOT NULL,
  percent INTEGER,
  count_in INTEGER NOT NULL,
  drive TEXT NOT NULL,
  utc TEXT NOT NULL,
  server_us INTEGER NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER runs_no_update BEFORE UPDATE ON runs BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER runs_no_delete BEFORE DELETE ON runs BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- The end of a run; `first` and `last` are the places reached, JSON.
CREATE TABLE run_ends (
  link INTEGER PRIMARY KEY,
  run INTEGER NOT NULL UNIQUE REFERENCES runs (run),
  session INTEGER NOT NULL REFERENCES sessions (session),
  how TEXT NOT NULL,
  first TEXT,
  last TEXT,
  utc TEXT NOT NULL,
  server_us INTEGER NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER run_ends_no_update BEFORE UPDATE ON run_ends BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER run_ends_no_delete BEFORE DELETE ON run_ends BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- Who played whom in a run.
CREATE TABLE casts (
  link INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES runs (run),
  part TEXT NOT NULL,
  person TEXT NOT NULL,
  member INTEGER,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER casts_no_update BEFORE UPDATE ON casts BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER casts_no_delete BEFORE DELETE ON casts BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- Everything that happened, in order; `screen` and `detail` are JSON.
CREATE TABLE events (
  link INTEGER PRIMARY KEY,
  seq INTEGER NOT NULL UNIQUE,
  session INTEGER NOT NULL REFERENCES sessions (session),
  server_us INTEGER NOT NULL,
  utc TEXT NOT NULL,
  run INTEGER REFERENCES runs (run),
  kind TEXT NOT NULL,
  who TEXT,
  member INTEGER,
  role TEXT,
  phrase INTEGER,
  phrase_name TEXT,
  beat TEXT,
  move INTEGER,
  words TEXT,
  screen TEXT,
  percent INTEGER,
  reason TEXT,
  hold INTEGER,
  tap TEXT,
  detail TEXT,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER events_no_update BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER events_no_delete BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- How a page fired a cue.
CREATE TABLE reports (
  link INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES runs (run),
  member INTEGER NOT NULL,
  cue INTEGER NOT NULL,
  due_us INTEGER NOT NULL,
  fired_us INTEGER NOT NULL,
  bound_us INTEGER,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER reports_no_update BEFORE UPDATE ON reports BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER reports_no_delete BEFORE DELETE ON reports BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

-- What became of a member: joined, part, revoked.
CREATE TABLE member_changes (
  link INTEGER PRIMARY KEY,
  member INTEGER NOT NULL,
  what TEXT NOT NULL,
  utc TEXT NOT NULL,
  name TEXT,
  role TEXT,
  part TEXT,
  key_sha256 TEXT,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER member_changes_no_update BEFORE UPDATE ON member_changes BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;
CREATE TRIGGER member_changes_no_delete BEFORE DELETE ON member_changes BEGIN SELECT RAISE(ABORT, 'rows of the journal are only ever added'); END;

CREATE INDEX events_of_run ON events (run);
CREATE INDEX reports_of_run ON reports (run);
