-- A data file after step 6, starts_of_the_daemon, which no Noonpot stayed at; the rows are those of a later one.
PRAGMA application_id = 1315925870;
BEGIN TRANSACTION;
CREATE TABLE alarm (
            cooker TEXT NOT NULL,
            alarm TEXT NOT NULL,
            state TEXT NOT NULL,
            since_span INTEGER NOT NULL REFERENCES clock_span,
            since_tick INTEGER NOT NULL,
            since_mono_s REAL NOT NULL,
            occurrence INTEGER NOT NULL,
            subject TEXT NOT NULL,
            text TEXT NOT NULL,
            priority TEXT NOT NULL,
            rising_s REAL,
            falling_s REAL,
            told_s REAL,
            until_s REAL,
            written_span INTEGER NOT NULL REFERENCES clock_span,
            written_mono_s REAL NOT NULL,
            PRIMARY KEY (cooker, alarm)
        ) WITHOUT ROWID;
INSERT INTO "alarm" VALUES('box','done','unacknowledged',1313,1343,1500.25,3,'','box: done','high',NULL,NULL,1510.5,NULL,1313,1520.0);
CREATE TABLE alert (
            seq INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            expires_tick INTEGER NOT NULL,
            cooker TEXT NOT NULL,
            alarm TEXT NOT NULL,
            state TEXT NOT NULL,
            priority TEXT NOT NULL,
            text TEXT NOT NULL
        );
INSERT INTO "alert" VALUES(1,'a-1',1,1112,1112,'box','done','unacknowledged','high','box: done, ''take it out'' – 92 °C');
INSERT INTO "alert" VALUES(2,'a-2',1252,1317,1317,'box','done','unacknowledged','high','box: second');
INSERT INTO "alert" VALUES(3,'a-3',1313,3289,3289,'box','done','unacknowledged','high','dish: third');
CREATE TABLE clock_span (
            first_tick INTEGER PRIMARY KEY,
            boot TEXT NOT NULL,
            zero REAL NOT NULL,
            wall_s INTEGER NOT NULL,
            stamped_wall_s INTEGER NOT NULL,
            trusted INTEGER NOT NULL CHECK (trusted IN (0, 1))
        );
INSERT INTO "clock_span" VALUES(1,'boot-1',2.0,1780468998,1780468998,1);
INSERT INTO "clock_span" VALUES(1252,'boot-1',2.0,1780465398,1780465398,1);
INSERT INTO "clock_span" VALUES(1313,'boot-2',1314.0,1780464086,1780464086,0);
CREATE TABLE cook (
            id INTEGER PRIMARY KEY,
            cooker TEXT NOT NULL,
            food TEXT NOT NULL,
            target_c REAL,
            started_span INTEGER NOT NULL REFERENCES clock_span,
            started_tick INTEGER NOT NULL,
            stopped_span INTEGER REFERENCES clock_span,
            stopped_tick INTEGER,
            aim_azimuth_deg REAL,
            aim_elevation_deg REAL,
            load_span INTEGER REFERENCES clock_span,
            load_tick INTEGER,
            load_food TEXT,
            load_mass_kg REAL,
            load_start_c REAL,
            load_target_c REAL
        , meal_at TEXT);
INSERT INTO "cook" VALUES(1,'box','bread',92.0,1,1102,1252,1317,94.5,37.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "cook" VALUES(2,'dish','',NULL,1313,3289,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE cursor (
            sink TEXT NOT NULL,
            stream TEXT NOT NULL,
            position INTEGER NOT NULL,
            PRIMARY KEY (sink, stream)
        ) WITHOUT ROWID;
INSERT INTO "cursor" VALUES('influx','event',4);
INSERT INTO "cursor" VALUES('influx','reading',1200132);
CREATE TABLE event (
            id INTEGER PRIMARY KEY,
            uid TEXT UNIQUE,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            cooker TEXT NOT NULL,
            kind TEXT NOT NULL,
            detail TEXT NOT NULL
        );
INSERT INTO "event" VALUES(1,'0001',1,1102,'box','start','{"food": "bread"}');
INSERT INTO "event" VALUES(2,'0002',1,1107,'box','aim','{"azimuth": "94.5", "elevation": "37"}');
INSERT INTO "event" VALUES(3,'0003',1,1112,'box','load','{"mass_kg": "0.6", "start_c": "25"}');
INSERT INTO "event" VALUES(4,'0004',1252,1317,'box','stop','{}');
INSERT INTO "event" VALUES(5,NULL,1313,3289,'dish','note','{"text": "she said \"hm\""}');
CREATE TABLE fault (
            series INTEGER NOT NULL REFERENCES series,
            tick INTEGER NOT NULL,
            kind TEXT NOT NULL,
            detail TEXT NOT NULL,
            PRIMARY KEY (series, tick)
        ) WITHOUT ROWID;
INSERT INTO "fault" VALUES(2,1232,'checksum','as said by the driver');
INSERT INTO "fault" VALUES(2,1252,'','');
CREATE TABLE migration (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, at TEXT NOT NULL);
INSERT INTO "migration" VALUES(1,'clock_and_readings','2026-06-03T07:00:00Z');
INSERT INTO "migration" VALUES(2,'cooks_and_events','2026-06-03T07:00:00Z');
INSERT INTO "migration" VALUES(3,'alarms_and_outbox','2026-06-03T07:00:00Z');
INSERT INTO "migration" VALUES(4,'uplink_and_sun','2026-06-03T07:00:00Z');
INSERT INTO "migration" VALUES(5,'meal_of_a_cook','2026-06-03T07:00:00Z');
INSERT INTO "migration" VALUES(6,'starts_of_the_daemon','2026-06-03T07:00:00Z');
CREATE TABLE quarantine (
            sink TEXT NOT NULL,
            line TEXT NOT NULL,
            reason TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (sink, line)
        ) WITHOUT ROWID;
INSERT INTO "quarantine" VALUES('influx','a line, 1','refused: 400','2026-06-03T06:05:15Z');
CREATE TABLE reading (id INTEGER PRIMARY KEY, value INTEGER NOT NULL);
INSERT INTO "reading" VALUES(1046529,1280);
INSERT INTO "reading" VALUES(1046530,640);
INSERT INTO "reading" VALUES(1046531,632);
INSERT INTO "reading" VALUES(1046532,1889);
INSERT INTO "reading" VALUES(1046533,375);
INSERT INTO "reading" VALUES(1046534,10240);
INSERT INTO "reading" VALUES(1067009,1281);
INSERT INTO "reading" VALUES(1067010,642);
INSERT INTO "reading" VALUES(1067011,632);
INSERT INTO "reading" VALUES(1067012,1889);
INSERT INTO "reading" VALUES(1067013,359);
INSERT INTO "reading" VALUES(1067014,10240);
INSERT INTO "reading" VALUES(1087489,1282);
INSERT INTO "reading" VALUES(1087490,644);
INSERT INTO "reading" VALUES(1087491,632);
INSERT INTO "reading" VALUES(1087492,1889);
INSERT INTO "reading" VALUES(1087493,343);
INSERT INTO "reading" VALUES(1087494,10240);
INSERT INTO "reading" VALUES(1107969,1283);
INSERT INTO "reading" VALUES(1107970,646);
INSERT INTO "reading" VALUES(1107971,632);
INSERT INTO "reading" VALUES(1107972,1889);
INSERT INTO "reading" VALUES(1107973,327);
INSERT INTO "reading" VALUES(1107974,10240);
INSERT INTO "reading" VALUES(1128449,1284);
INSERT INTO "reading" VALUES(1128450,648);
INSERT INTO "reading" VALUES(1128451,632);
INSERT INTO "reading" VALUES(1128452,1889);
INSERT INTO "reading" VALUES(1128453,311);
INSERT INTO "reading" VALUES(1128454,10240);
INSERT INTO "reading" VALUES(1159169,1280);
INSERT INTO "reading" VALUES(1159170,640);
INSERT INTO "reading" VALUES(1159171,632);
INSERT INTO "reading" VALUES(1159172,1889);
INSERT INTO "reading" VALUES(1159173,375);
INSERT INTO "reading" VALUES(1159174,10240);
INSERT INTO "reading" VALUES(1179649,1281);
INSERT INTO "reading" VALUES(1179650,642);
INSERT INTO "reading" VALUES(1179651,632);
INSERT INTO "reading" VALUES(1179652,1889);
INSERT INTO "reading" VALUES(1179653,359);
INSERT INTO "reading" VALUES(1179654,10240);
INSERT INTO "reading" VALUES(1200129,1282);
INSERT INTO "reading" VALUES(1200130,644);
INSERT INTO "reading" VALUES(1200131,632);
INSERT INTO "reading" VALUES(1200132,1889);
INSERT INTO "reading" VALUES(1200133,343);
INSERT INTO "reading" VALUES(1200134,10240);
INSERT INTO "reading" VALUES(1220609,1283);
INSERT INTO "reading" VALUES(1220610,646);
INSERT INTO "reading" VALUES(1220611,632);
INSERT INTO "reading" VALUES(1220612,1889);
INSERT INTO "reading" VALUES(1220613,327);
INSERT INTO "reading" VALUES(1220614,10240);
INSERT INTO "reading" VALUES(1241089,1284);
INSERT INTO "reading" VALUES(1241090,648);
INSERT INTO "reading" VALUES(1241091,632);
INSERT INTO "reading" VALUES(1241092,1889);
INSERT INTO "reading" VALUES(1241093,311);
INSERT INTO "reading" VALUES(1241094,10240);
INSERT INTO "reading" VALUES(1261569,1285);
INSERT INTO "reading" VALUES(1261570,650);
INSERT INTO "reading" VALUES(1261571,632);
INSERT INTO "reading" VALUES(1261572,1889);
INSERT INTO "reading" VALUES(1261573,295);
INSERT INTO "reading" VALUES(1261574,10240);
INSERT INTO "reading" VALUES(1282049,1280);
INSERT INTO "reading" VALUES(1282050,640);
INSERT INTO "reading" VALUES(1282051,632);
INSERT INTO "reading" VALUES(1282052,1889);
INSERT INTO "reading" VALUES(1282053,375);
INSERT INTO "reading" VALUES(1282054,10240);
INSERT INTO "reading" VALUES(1302529,1281);
INSERT INTO "reading" VALUES(1302530,642);
INSERT INTO "reading" VALUES(1302531,632);
INSERT INTO "reading" VALUES(1302532,1889);
INSERT INTO "reading" VALUES(1302533,359);
INSERT INTO "reading" VALUES(1302534,10240);
INSERT INTO "reading" VALUES(1323009,1282);
INSERT INTO "reading" VALUES(1323010,644);
INSERT INTO "reading" VALUES(1323011,632);
INSERT INTO "reading" VALUES(1323012,1889);
INSERT INTO "reading" VALUES(1323013,343);
INSERT INTO "reading" VALUES(1323014,10240);
INSERT INTO "reading" VALUES(1343489,1283);
INSERT INTO "reading" VALUES(1343490,646);
INSERT INTO "reading" VALUES(1343491,632);
INSERT INTO "reading" VALUES(1343492,1889);
INSERT INTO "reading" VALUES(1343493,327);
INSERT INTO "reading" VALUES(1343494,10240);
INSERT INTO "reading" VALUES(3326977,1280);
INSERT INTO "reading" VALUES(3326978,640);
INSERT INTO "reading" VALUES(3326979,632);
INSERT INTO "reading" VALUES(3326980,1889);
INSERT INTO "reading" VALUES(3326981,375);
INSERT INTO "reading" VALUES(3326982,10240);
INSERT INTO "reading" VALUES(3347457,1281);
INSERT INTO "reading" VALUES(3347458,642);
INSERT INTO "reading" VALUES(3347459,632);
INSERT INTO "reading" VALUES(3347460,1889);
INSERT INTO "reading" VALUES(3347461,359);
INSERT INTO "reading" VALUES(3347462,10240);
INSERT INTO "reading" VALUES(3367937,1282);
INSERT INTO "reading" VALUES(3367938,644);
INSERT INTO "reading" VALUES(3367939,632);
INSERT INTO "reading" VALUES(3367940,1889);
INSERT INTO "reading" VALUES(3367941,343);
INSERT INTO "reading" VALUES(3367942,10240);
CREATE TABLE series (
            id INTEGER PRIMARY KEY CHECK (id BETWEEN 1 AND 1023),
            probe TEXT NOT NULL,
            role TEXT NOT NULL,
            cooker TEXT NOT NULL,
            UNIQUE (probe, role, cooker)
        );
INSERT INTO "series" VALUES(1,'box-pot','pot','box');
INSERT INTO "series" VALUES(2,'box-core','core','box');
INSERT INTO "series" VALUES(3,'box-core-2','core','box');
INSERT INTO "series" VALUES(4,'dish-pot','pot','dish');
INSERT INTO "series" VALUES(5,'shade','ambient','');
INSERT INTO "series" VALUES(6,'sky','irradiance','');
CREATE TABLE settlement (
            channel TEXT NOT NULL,
            alert INTEGER NOT NULL REFERENCES alert,
            outcome TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (channel, alert)
        ) WITHOUT ROWID;
INSERT INTO "settlement" VALUES('mqtt',1,'sent','2026-06-03T06:05:15Z');
CREATE TABLE start (
            id INTEGER PRIMARY KEY,
            span INTEGER NOT NULL REFERENCES clock_span,
            tick INTEGER NOT NULL,
            last_reading INTEGER,
            ended INTEGER NOT NULL DEFAULT 0 CHECK (ended IN (0, 1))
        );
INSERT INTO "start" VALUES(1,1,1002,NULL,1);
INSERT INTO "start" VALUES(2,1313,3229,1312,0);
CREATE TABLE sun_day (id INTEGER PRIMARY KEY, key TEXT UNIQUE, body BLOB NOT NULL);
INSERT INTO "sun_day" VALUES(1,'day-1',X'000102030405060708090A0B0C0D0E0F101112131415161718191A1B1C1D1E1F2021222324252627');
CREATE VIEW reading_utc AS
            SELECT datetime((reading.id >> 10) + (
                    SELECT wall_s FROM clock_span WHERE first_tick <= reading.id >> 10
                    ORDER BY first_tick DESC LIMIT 1), 'unixepoch') AS at,
                probe, role, cooker, value / 16.0 AS value
            FROM reading JOIN series ON series.id = reading.id & 1023;
COMMIT;
