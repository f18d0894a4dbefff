PRAGMA user_version = 3;
PRAGMA application_id = 1717859171;
BEGIN TRANSACTION;
CREATE TABLE ball (
    session_id INTEGER NOT NULL REFERENCES session(id),
    feed_id INTEGER NOT NULL,
    ball_no INTEGER NOT NULL,
    launcher INTEGER NOT NULL,
    feed TEXT NOT NULL,
    player TEXT,
    feed_index INTEGER NOT NULL,
    station TEXT NOT NULL,
    lane TEXT NOT NULL,
    number INTEGER NOT NULL,
    shown INTEGER NOT NULL,
    leave_at_device_s REAL NOT NULL,
    intent_utc_s REAL NOT NULL,
    outcome TEXT,
    outcome_utc_s REAL,
    left_device_s REAL,
    left_utc_s REAL,
    reason TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (session_id, feed_id)
);
INSERT INTO "ball" VALUES(1,1,1,0,'deep_backhand','Ash',0,'','',0,0,64.0,1800000062.0,'left',1800000064.1,64.0,1800000064.0,'');
INSERT INTO "ball" VALUES(1,2,2,0,'deep_backhand','Ash',0,'','',0,0,68.0,1800000066.0,'left',1800000068.1,68.0,1800000068.0,'');
INSERT INTO "ball" VALUES(1,3,3,0,'deep_backhand','Birch',0,'','',0,0,72.0,1800000070.0,'left',1800000072.1,72.0,1800000072.0,'');
INSERT INTO "ball" VALUES(1,4,4,0,'deep_backhand','Birch',0,'','',0,0,76.0,1800000074.0,'left',1800000076.1,76.0,1800000076.0,'');
CREATE TABLE entry (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES session(id),
    utc_s REAL NOT NULL,
    kind TEXT NOT NULL,
    launcher INTEGER,
    data TEXT NOT NULL
);
INSERT INTO "entry" VALUES(1,1,1800000005.0,'sync-tone',NULL,'{"by":"page 1"}');
INSERT INTO "entry" VALUES(2,1,1800000060.0,'call',NULL,'{"text":"Ash is on"}');
CREATE TABLE result (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES session(id),
    feed_id INTEGER NOT NULL,
    result TEXT NOT NULL,
    utc_s REAL NOT NULL,
    taken_back INTEGER NOT NULL DEFAULT 0
, landing_x_m REAL, landing_y_m REAL);
INSERT INTO "result" VALUES(1,1,1,'in',1800000066.0,0,NULL,NULL);
INSERT INTO "result" VALUES(2,1,2,'net',1800000070.0,1,NULL,NULL);
INSERT INTO "result" VALUES(3,1,3,'long',1800000074.0,0,NULL,NULL);
INSERT INTO "result" VALUES(4,1,2,'in',1800000075.0,0,1.5,-8.0);
CREATE TABLE session (
    id INTEGER PRIMARY KEY,
    token INTEGER NOT NULL,
    begun_utc_s REAL NOT NULL,
    ended_utc_s REAL,
    ending TEXT,
    title TEXT NOT NULL,
    source TEXT NOT NULL,
    rehearsal INTEGER NOT NULL,
    plan BLOB NOT NULL,
    profiles BLOB NOT NULL,
    group_json TEXT NOT NULL
, event_format INTEGER NOT NULL DEFAULT 0);
INSERT INTO "session" VALUES(1,1,1800000000.0,1800000100.0,'finished','Thursday group (invented)','thursday.feed',0,X'7B2273656564223A372C2267726F7570223A7B22706C6179657273223A5B7B226E616D65223A22417368227D2C7B226E616D65223A224269726368227D5D7D7D',X'5B5D','{"players":[{"name":"Ash"},{"name":"Birch"}]}',0);
CREATE INDEX entry_of_session ON entry (session_id, kind, id);
CREATE INDEX result_of_session ON result (session_id, id);
COMMIT;
