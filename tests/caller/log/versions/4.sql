BEGIN TRANSACTION;
CREATE TABLE marks (
        id INTEGER PRIMARY KEY,
        set_id INTEGER NOT NULL REFERENCES sets,
        mark TEXT NOT NULL CHECK (mark IN ('clean', 'drop')),
        moment INTEGER NOT NULL,
        beat INTEGER,                   -- NULL outside the set
        given_by TEXT NOT NULL
    );
INSERT INTO "marks" VALUES(1,1,'clean',1774972800000,10,'pedal');
CREATE TABLE sessions (
        id INTEGER PRIMARY KEY,
        started INTEGER NOT NULL,
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        props TEXT NOT NULL,            -- empty where it was not told
        device TEXT NOT NULL
    , file TEXT NOT NULL DEFAULT '', resumes INTEGER REFERENCES sessions);
INSERT INTO "sessions" VALUES(1,1774972800000,NULL,'clubs','speakers','',NULL);
CREATE TABLE sets (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES sessions,
        pattern TEXT NOT NULL,          -- in its canonical form
        written TEXT NOT NULL,          -- as it was asked for
        objects INTEGER NOT NULL,
        cycle_beats INTEGER NOT NULL,   -- of one cycle as written
        props TEXT NOT NULL,
        first_hand TEXT NOT NULL CHECK (first_hand IN ('right', 'left')),
        tempo_start REAL NOT NULL,
        tempo_end REAL NOT NULL,        -- so far, while it goes on
        tempo_fastest REAL NOT NULL,    -- likewise
        beats_planned INTEGER,          -- NULL where it has no end
        beats_thrown INTEGER NOT NULL,
        seconds REAL NOT NULL,          -- of throwing, without pauses
        started INTEGER NOT NULL,
        seen INTEGER NOT NULL,          -- when something was last known of it
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        status TEXT NOT NULL CHECK (status IN ('open', 'finished', 'stopped')),
        outcome TEXT CHECK (outcome IN ('clean', 'drop'))
    , catches INTEGER, goal INTEGER, block INTEGER, part TEXT NOT NULL DEFAULT '', after_part TEXT NOT NULL DEFAULT '');
INSERT INTO "sets" VALUES(1,1,'531','153',3,3,'clubs','left',150.0,165.0,165.0,48,48,18.5,1774972800000,1774972800000,1774972800000,'finished','clean',0,NULL,NULL,'','');
INSERT INTO "sets" VALUES(2,1,'(4,2x)*','(4,2x)*',3,4,'clubs','right',180.0,180.0,180.0,NULL,0,0.0,1774972800000,1774972800000,NULL,'open',NULL,NULL,NULL,NULL,'','');
CREATE TABLE takes (
        id INTEGER PRIMARY KEY,
        kept INTEGER NOT NULL,          -- when it was listened to
        file TEXT NOT NULL,             -- the recording's name, without its folder
        title TEXT NOT NULL,            -- what it was held against; empty for nothing
        pattern TEXT NOT NULL,          -- in its canonical form; empty where it is none, or several
        props TEXT NOT NULL,
        seconds REAL NOT NULL,          -- of the recording
        heard INTEGER NOT NULL,         -- catches
        expected INTEGER NOT NULL,
        tempo_asked REAL,               -- beats a minute; NULL where it is not known
        tempo REAL,                     -- as it was kept; NULL where nothing tells
        asynchrony_sd REAL,             -- in seconds, as all that follow; NULL where nothing tells
        interval_sd REAL,
        right_later REAL,               -- than the left
        drops INTEGER NOT NULL,
        sureness REAL NOT NULL,
        report TEXT NOT NULL            -- the rest, as JSON
    );
INSERT INTO "takes" VALUES(1,1774972800000,'barn.wav','153 at 150 beats a minute','531','clubs',61.5,140,148,150.0,151.5,0.0125,NULL,-0.004,1,0.9,'{"remarks": ["Many a word\u2026"], "pace": []}');
CREATE INDEX sets_by_session ON sets (session_id);
CREATE INDEX sets_by_start ON sets (started);
CREATE INDEX sets_by_pattern ON sets (pattern, props);
CREATE INDEX clean_sets ON sets (pattern, props) WHERE outcome = 'clean';
CREATE INDEX marks_by_set ON marks (set_id);
CREATE INDEX takes_by_moment ON takes (kept);
CREATE INDEX takes_by_pattern ON takes (pattern, props);
CREATE INDEX best_runs ON sets (pattern, props, catches);
CREATE INDEX sessions_by_file ON sessions (file);
COMMIT;
