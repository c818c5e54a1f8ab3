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
    );
INSERT INTO "sessions" VALUES(1,1774972800000,NULL,'clubs','speakers');
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
    );
INSERT INTO "sets" VALUES(1,1,'531','153',3,3,'clubs','left',150.0,165.0,165.0,48,48,18.5,1774972800000,1774972800000,1774972800000,'finished','clean');
INSERT INTO "sets" VALUES(2,1,'(4,2x)*','(4,2x)*',3,4,'clubs','right',180.0,180.0,180.0,NULL,0,0.0,1774972800000,1774972800000,NULL,'open',NULL);
CREATE INDEX sets_by_session ON sets (session_id);
CREATE INDEX sets_by_start ON sets (started);
CREATE INDEX sets_by_pattern ON sets (pattern, props);
CREATE INDEX clean_sets ON sets (pattern, props) WHERE outcome = 'clean';
CREATE INDEX marks_by_set ON marks (set_id);
COMMIT;