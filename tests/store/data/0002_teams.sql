PRAGMA application_id = 1381386066;
BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'gradebook','0001_book','2026-09-01 18:00:00+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'gradebook','0002_teams','2026-09-01 18:00:00+00:00');
CREATE TABLE action (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        kind    TEXT NOT NULL,
        at      TEXT NOT NULL,
        who     TEXT NOT NULL,
        undone  INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1, 2))
    ) STRICT
    ;
INSERT INTO "action" VALUES(1,1,'correct','2026-09-01T18:00:03.000000Z','coach',0);
INSERT INTO "action" VALUES(2,1,'confirm','2026-09-01T18:00:05.000000Z','coach',0);
INSERT INTO "action" VALUES(3,1,'comment','2026-09-01T18:00:07.000000Z','coach',0);
INSERT INTO "action" VALUES(4,1,'split rep','2026-09-01T18:00:09.000000Z','coach',0);
INSERT INTO "action" VALUES(5,1,'correct','2026-09-01T18:00:11.000000Z','coach',1);
CREATE TABLE change (
        id         INTEGER PRIMARY KEY AUTOINCREMENT,
        action_id  INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        subject    TEXT NOT NULL CHECK (subject IN ('row', 'rep', 'note', 'mend', 'question')),
        subject_id INTEGER NOT NULL,
        field      TEXT NOT NULL,
        old        TEXT NOT NULL,
        new        TEXT
    ) STRICT
    ;
INSERT INTO "change" VALUES(1,1,'row',1,'verdict','"win"','"loss"');
INSERT INTO "change" VALUES(2,2,'row',2,'confirmed','false','true');
INSERT INTO "change" VALUES(3,3,'row',3,'comment','""','"teach this"');
INSERT INTO "change" VALUES(4,4,'rep',2,'stretches','[[17,28]]','[[17,24]]');
INSERT INTO "change" VALUES(5,4,'rep',2,'held','false','true');
INSERT INTO "change" VALUES(6,4,'row',2,'end','13.9','11.9');
INSERT INTO "change" VALUES(7,4,'rep',4,'stretches','[]','[[24,28]]');
INSERT INTO "change" VALUES(8,4,'rep',4,'held','false','true');
INSERT INTO "change" VALUES(9,4,'row',5,'shown','false','true');
INSERT INTO "change" VALUES(10,5,'row',4,'finish','null','"+"');
CREATE TABLE event (
        note_id   INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        revision  INTEGER NOT NULL,
        action_id INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        what      TEXT NOT NULL CHECK (what IN ('do', 'undo', 'redo')),
        at        TEXT NOT NULL,
        who       TEXT NOT NULL,
        PRIMARY KEY (note_id, revision)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "event" VALUES(1,1,1,'do','2026-09-01T18:00:04.000000Z','coach');
INSERT INTO "event" VALUES(1,2,2,'do','2026-09-01T18:00:06.000000Z','coach');
INSERT INTO "event" VALUES(1,3,3,'do','2026-09-01T18:00:08.000000Z','coach');
INSERT INTO "event" VALUES(1,4,4,'do','2026-09-01T18:00:10.000000Z','coach');
INSERT INTO "event" VALUES(1,5,5,'do','2026-09-01T18:00:12.000000Z','coach');
INSERT INTO "event" VALUES(1,6,5,'undo','2026-09-01T18:00:13.000000Z','coach');
CREATE TABLE grade_row (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        rep_id   INTEGER NOT NULL REFERENCES rep(id) ON DELETE CASCADE,
        seq      INTEGER NOT NULL,
        shown    INTEGER NOT NULL CHECK (shown IN (0, 1)),
        made     TEXT
    ) STRICT
    ;
INSERT INTO "grade_row" VALUES(1,1,1,0,1,NULL);
INSERT INTO "grade_row" VALUES(2,1,2,1,1,NULL);
INSERT INTO "grade_row" VALUES(3,1,3,2,1,NULL);
INSERT INTO "grade_row" VALUES(4,1,3,3,1,NULL);
INSERT INTO "grade_row" VALUES(5,1,4,4,0,'{"end":13.9,"player":"76","rep":3,"start":12.0}');
CREATE TABLE note (
        id          INTEGER PRIMARY KEY AUTOINCREMENT,
        slug        TEXT NOT NULL UNIQUE,
        title       TEXT NOT NULL,
        kind        TEXT NOT NULL CHECK (kind IN ('audio', 'captions', 'text')),
        source      TEXT,
        digest      TEXT NOT NULL,
        identity    TEXT NOT NULL UNIQUE,
        duration_s  REAL NOT NULL CHECK (duration_s >= 0),
        created     TEXT NOT NULL,
        player      TEXT,
        position    TEXT,
        opponent    TEXT,
        game_name   TEXT,
        level       TEXT,
        revision    INTEGER NOT NULL DEFAULT 0,
        cursor_row  INTEGER
    , game_id INTEGER REFERENCES game(id) ON DELETE SET NULL) STRICT
    ;
INSERT INTO "note" VALUES(1,'second-half','Second half','audio',NULL,'d1','5184bc3be6e349026a6323ec0b0ab9ec398da2d2c409e1a3c591bf9333bfe248',30.0,'2026-09-01T18:00:01.000000Z','76','RT','Hollow Creek',NULL,NULL,6,NULL,1);
CREATE TABLE question (
        id        INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id   INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        action_id INTEGER NOT NULL REFERENCES action(id) ON DELETE CASCADE,
        row_id    INTEGER NOT NULL REFERENCES grade_row(id) ON DELETE CASCADE,
        field     TEXT NOT NULL,
        kept      TEXT NOT NULL,
        read      TEXT NOT NULL
    ) STRICT
    ;
CREATE TABLE reading (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        digest   TEXT NOT NULL,
        model    TEXT NOT NULL,
        settings TEXT NOT NULL,
        created  TEXT NOT NULL,
        words    TEXT NOT NULL,
        mends    TEXT NOT NULL,
        remarks  TEXT NOT NULL
    ) STRICT
    ;
INSERT INTO "reading" VALUES(1,1,'7d06817756396f46e18672bba7ce9fb5a5433d95d644eb3d6e1777159270aff3','base','{}','2026-09-01T18:00:02.000000Z','[["All",0.0,0.4,0.9],["right",0.5,0.9,0.9],["fellas,",1.0,1.4,0.9],["this",1.5,1.9,0.9],["is",2.0,2.4,0.9],["the",2.5,2.9,0.9],["second",3.0,3.4,0.9],["half.",3.5,3.9,0.9],["First",4.0,4.4,0.9],["one",4.5,4.9,0.9],["he",5.0,5.4,0.9],["reaches",5.5,5.9,0.9],["the",6.0,6.4,0.9],["nose",6.5,6.9,0.9],["and",7.0,7.4,0.9],["seals",7.5,7.9,0.9],["him.",8.0,8.4,0.9],["Next",8.5,8.9,0.9],["rep,",9.0,9.4,0.9],["the",9.5,9.9,0.9],["end",10.0,10.4,0.9],["brings",10.5,10.9,0.9],["an",11.0,11.4,0.9],["arm",11.5,11.9,0.9],["over",12.0,12.4,0.9],["and",12.5,12.9,0.9],["he",13.0,13.4,0.9],["oversets.",13.5,13.9,0.9],["Coach",14.0,14.4,0.9],["on",14.5,14.9,0.9],["the",15.0,15.4,0.9],["other",15.5,15.9,0.9],["side",16.0,16.4,0.9],["says",16.5,16.9,0.9],["he''s",17.0,17.4,0.9],["slow.",17.5,17.9,0.9],["Third",18.0,18.4,0.9],["and",18.5,18.9,0.9],["eight,",19.0,19.4,0.9],["good",19.5,19.9,0.9],["punch",20.0,20.4,0.9],["by",20.5,20.9,0.9],["the",21.0,21.4,0.9],["guard,",21.5,21.9,0.9],["the",22.0,22.4,0.9],["tackle",22.5,22.9,0.9],["climbs.",23.0,23.4,0.9]]','[]','{}');
CREATE TABLE rep (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        note_id  INTEGER NOT NULL REFERENCES note(id) ON DELETE CASCADE,
        position REAL NOT NULL
    ) STRICT
    ;
INSERT INTO "rep" VALUES(1,1,4.0);
INSERT INTO "rep" VALUES(2,1,8.5);
INSERT INTO "rep" VALUES(3,1,18.0);
INSERT INTO "rep" VALUES(4,1,12.0);
CREATE TABLE rep_reading (
        rep_id     INTEGER NOT NULL REFERENCES rep(id) ON DELETE CASCADE,
        reading_id INTEGER NOT NULL REFERENCES reading(id) ON DELETE CASCADE,
        stretches  TEXT NOT NULL,
        PRIMARY KEY (rep_id, reading_id)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "rep_reading" VALUES(1,1,'[[8,17]]');
INSERT INTO "rep_reading" VALUES(2,1,'[[17,28]]');
INSERT INTO "rep_reading" VALUES(3,1,'[[36,47]]');
CREATE TABLE row_reading (
        row_id     INTEGER NOT NULL REFERENCES grade_row(id) ON DELETE CASCADE,
        reading_id INTEGER NOT NULL REFERENCES reading(id) ON DELETE CASCADE,
        grade      TEXT NOT NULL,
        PRIMARY KEY (row_id, reading_id)
    ) STRICT, WITHOUT ROWID
    ;
INSERT INTO "row_reading" VALUES(1,1,'{"confidence":0.9,"end":8.4,"evidence":{"techniques":[{"end":8.4,"heard":"as said","read":"as said","start":4.0}],"verdict":[{"end":8.4,"heard":"as said","read":"as said","start":4.0}]},"field_confidence":{"techniques":0.5,"verdict":0.5},"player":"76","rep":1,"start":4.0,"techniques":["reach","seal"],"verdict":"win"}');
INSERT INTO "row_reading" VALUES(2,1,'{"confidence":0.4,"end":13.9,"evidence":{"faults":[{"end":13.9,"heard":"as said","read":"as said","start":8.5}],"moves":[{"end":13.9,"heard":"as said","read":"as said","start":8.5}],"verdict":[{"end":13.9,"heard":"as said","read":"as said","start":8.5}]},"faults":["overset"],"field_confidence":{"faults":0.5,"moves":0.5,"verdict":0.5},"moves":["swim"],"player":"76","rep":2,"start":8.5,"verdict":"loss"}');
INSERT INTO "row_reading" VALUES(3,1,'{"confidence":0.8,"distance":8,"down":3,"end":23.4,"evidence":{"distance":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}],"down":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}],"techniques":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}],"verdict":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}]},"field_confidence":{"distance":0.5,"down":0.5,"techniques":0.5,"verdict":0.5},"player":"64","rep":3,"start":18.0,"techniques":["punch"],"verdict":"win"}');
INSERT INTO "row_reading" VALUES(4,1,'{"confidence":0.6,"distance":8,"down":3,"end":23.4,"evidence":{"distance":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}],"down":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}],"techniques":[{"end":23.4,"heard":"as said","read":"as said","start":18.0}]},"field_confidence":{"distance":0.5,"down":0.5,"techniques":0.5},"player":"76","rep":3,"start":18.0,"techniques":["climb"]}');
CREATE TABLE team (
        id   INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE COLLATE NOCASE,
        own  INTEGER NOT NULL DEFAULT 0 CHECK (own IN (0, 1))
    ) STRICT
    ;
INSERT INTO "team" VALUES(1,'Hollow Creek',1);
INSERT INTO "team" VALUES(2,'Pine Bluff',0);
CREATE TABLE player (
        id      INTEGER PRIMARY KEY,
        team_id INTEGER NOT NULL REFERENCES team(id) ON DELETE CASCADE,
        name    TEXT NOT NULL COLLATE NOCASE,
        UNIQUE (team_id, name)
    ) STRICT
    ;
INSERT INTO "player" VALUES(1,1,'Teo Brandvold');
INSERT INTO "player" VALUES(2,1,'Ole Rask');
INSERT INTO "player" VALUES(3,2,'Sune Akre');
CREATE TABLE roster_spot (
        id        INTEGER PRIMARY KEY,
        team_id   INTEGER NOT NULL REFERENCES team(id) ON DELETE CASCADE,
        player_id INTEGER NOT NULL REFERENCES player(id) ON DELETE CASCADE,
        season    TEXT NOT NULL,
        jersey    TEXT NOT NULL,
        position  TEXT NOT NULL,
        since     TEXT,
        until     TEXT
    ) STRICT
    ;
INSERT INTO "roster_spot" VALUES(1,1,1,'2026','76','RT',NULL,'2026-10-01');
INSERT INTO "roster_spot" VALUES(2,1,2,'2026','64','RG',NULL,NULL);
INSERT INTO "roster_spot" VALUES(3,2,3,'2026','94','DE',NULL,NULL);
CREATE TABLE game (
        id       INTEGER PRIMARY KEY AUTOINCREMENT,
        title    TEXT NOT NULL,
        season   TEXT NOT NULL,
        date     TEXT,
        team_id  INTEGER REFERENCES team(id) ON DELETE SET NULL,
        opponent_id INTEGER REFERENCES team(id) ON DELETE SET NULL,
        place    TEXT CHECK (place IN ('home', 'away', 'neutral')),
        level    TEXT
    ) STRICT
    ;
INSERT INTO "game" VALUES(1,'Week 3','2026','2026-09-12',1,2,'home','college');
CREATE TABLE learned (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        kind    TEXT NOT NULL CHECK (kind IN ('form', 'mishearing', 'habit')),
        term    TEXT NOT NULL,
        form    TEXT NOT NULL COLLATE NOCASE,
        at      TEXT NOT NULL,
        note_id INTEGER REFERENCES note(id) ON DELETE SET NULL,
        row_id  INTEGER REFERENCES grade_row(id) ON DELETE SET NULL,
        UNIQUE (kind, term, form)
    ) STRICT
    ;
INSERT INTO "learned" VALUES(1,'form','swim','over the top','2026-09-02T18:00:00.000000Z',1,2);
DELETE FROM sqlite_sequence;
INSERT INTO sqlite_sequence VALUES('note',1);
INSERT INTO sqlite_sequence VALUES('reading',1);
INSERT INTO sqlite_sequence VALUES('rep',4);
INSERT INTO sqlite_sequence VALUES('grade_row',5);
INSERT INTO sqlite_sequence VALUES('action',5);
INSERT INTO sqlite_sequence VALUES('change',10);
INSERT INTO sqlite_sequence VALUES('game',1);
INSERT INTO sqlite_sequence VALUES('learned',1);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX reading_note ON reading (note_id);
CREATE INDEX rep_note ON rep (note_id);
CREATE INDEX grade_row_note ON grade_row (note_id);
CREATE INDEX action_note ON action (note_id, undone, id);
CREATE INDEX change_action ON change (action_id);
CREATE INDEX change_subject ON change (subject, subject_id);
CREATE INDEX question_note ON question (note_id);
CREATE VIEW change_log AS
    SELECT change.id, action.id AS action_id, action.note_id, action.kind, action.at, action.who,
           action.undone, change.subject, change.subject_id, change.field, change.old, change.new
    FROM change JOIN action ON action.id = change.action_id;
CREATE TRIGGER reading_is_final BEFORE UPDATE ON reading
        BEGIN SELECT RAISE(ABORT, 'a reading is never overwritten'); END;
CREATE TRIGGER rep_reading_is_final BEFORE UPDATE ON rep_reading
        BEGIN SELECT RAISE(ABORT, 'a rep_reading is never overwritten'); END;
CREATE TRIGGER row_reading_is_final BEFORE UPDATE ON row_reading
        BEGIN SELECT RAISE(ABORT, 'a row_reading is never overwritten'); END;
CREATE TRIGGER grade_row_is_final BEFORE UPDATE ON grade_row
        BEGIN SELECT RAISE(ABORT, 'a grade_row is never overwritten'); END;
CREATE TRIGGER change_is_final BEFORE UPDATE ON change
        BEGIN SELECT RAISE(ABORT, 'a change is never overwritten'); END;
CREATE INDEX roster_spot_team ON roster_spot (team_id, season);
CREATE INDEX note_game ON note (game_id);
COMMIT;
