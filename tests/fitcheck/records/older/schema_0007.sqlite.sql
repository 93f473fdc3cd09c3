-- A store of schema 0007, with the same rows as the second. Never changed: upgrades are tested from here.
BEGIN TRANSACTION;
CREATE TABLE access_keys (
	id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	scopes TEXT NOT NULL, 
	created TEXT NOT NULL, 
	revoked TEXT, 
	last_used TEXT, holder TEXT DEFAULT 'device' NOT NULL, until TEXT, 
	PRIMARY KEY (id)
);
INSERT INTO "access_keys" VALUES('0123456789ab','the yard''s tablet','eeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeee','assess read','2026-03-04T09:00:00.000Z',NULL,'2026-03-04T10:00:00.000Z','device',NULL);
CREATE TABLE contents (
	number INTEGER NOT NULL, 
	salt TEXT NOT NULL, 
	received BLOB NOT NULL, 
	answer BLOB NOT NULL, 
	PRIMARY KEY (number), 
	FOREIGN KEY(number) REFERENCES records (number)
);
INSERT INTO "contents" VALUES(1,'00000000000000000000000000000001',X'7B22666F6F74223A20226C6566745F666F7265222C0A20226E6F746573223A2022E282AC227D',X'7B226465636973696F6E223A2272656C65617365222C2275223A312E307D');
INSERT INTO "contents" VALUES(3,'00000000000000000000000000000003',X'7B22666F6F74223A20226C6566745F666F7265222C0A20226E6F746573223A2022E282AC227D',X'7B226465636973696F6E223A2272656C65617365222C2275223A312E307D');
INSERT INTO "contents" VALUES(4,'00000000000000000000000000000004',X'000102030405060708090A0B0C0D0E0F101112131415161718191A1B1C1D1E1F202122232425262728292A2B2C2D2E2F303132333435363738393A3B3C3D3E3F404142434445464748494A4B4C4D4E4F505152535455565758595A5B5C5D5E5F606162636465666768696A6B6C6D6E6F707172737475767778797A7B7C7D7E7F808182838485868788898A8B8C8D8E8F909192939495969798999A9B9C9D9E9FA0A1A2A3A4A5A6A7A8A9AAABACADAEAFB0B1B2B3B4B5B6B7B8B9BABBBCBDBEBFC0C1C2C3C4C5C6C7C8C9CACBCCCDCECFD0D1D2D3D4D5D6D7D8D9DADBDCDDDEDFE0E1E2E3E4E5E6E7E8E9EAEBECEDEEEFF0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF',X'7B226465636973696F6E223A2272656C65617365222C2275223A312E307D');
INSERT INTO "contents" VALUES(5,'00000000000000000000000000000005',X'',X'7B22657261736564223A5B325D2C22726561736F6E223A2261736B6564206F6E207061706572227D');
CREATE TABLE desk_sessions (
	digest TEXT NOT NULL, 
	"key" TEXT NOT NULL, 
	created TEXT NOT NULL, 
	last_seen TEXT NOT NULL, 
	PRIMARY KEY (digest), 
	FOREIGN KEY("key") REFERENCES access_keys (id)
);
CREATE TABLE erased_requests (
	digest TEXT NOT NULL, 
	PRIMARY KEY (digest)
);
CREATE TABLE head (
	one INTEGER NOT NULL CHECK (one = 1), 
	number INTEGER NOT NULL, 
	digest TEXT NOT NULL, 
	PRIMARY KEY (one)
);
INSERT INTO "head" VALUES(1,5,'sha256:248d014116bc48b621bcf2d06a9fe2e2a28c4bd625b946cfc82637975d5c8db3');
CREATE TABLE idempotency (
	scope TEXT NOT NULL, 
	"key" TEXT NOT NULL, 
	body_digest TEXT NOT NULL, 
	number INTEGER NOT NULL, 
	created TEXT NOT NULL, seal TEXT, 
	PRIMARY KEY (scope, "key"), 
	FOREIGN KEY(number) REFERENCES records (number)
);
INSERT INTO "idempotency" VALUES('','send-1','sha256:dddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddd',1,'2026-03-04T10:00:01.000Z',NULL);
CREATE TABLE key_uses (
	number INTEGER NOT NULL, 
	"key" TEXT NOT NULL, 
	at TEXT NOT NULL, 
	request TEXT NOT NULL, 
	method TEXT NOT NULL, 
	route TEXT NOT NULL, 
	status INTEGER NOT NULL, 
	PRIMARY KEY (number), 
	FOREIGN KEY("key") REFERENCES access_keys (id)
);
INSERT INTO "key_uses" VALUES(1,'0123456789ab','2026-03-04T10:00:00.000Z','r-1','POST','/v1/assessments',201);
CREATE TABLE origins (
	number INTEGER NOT NULL, 
	origin TEXT NOT NULL, 
	PRIMARY KEY (number), 
	FOREIGN KEY(number) REFERENCES records (number)
);
CREATE TABLE records (
	number INTEGER NOT NULL, 
	id TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	created TEXT NOT NULL, 
	person TEXT, 
	assessor TEXT, 
	horse TEXT, 
	foot TEXT, 
	visit TEXT, 
	stage TEXT, 
	decision TEXT, 
	fitted TEXT, 
	rulebook_version TEXT NOT NULL, 
	rulebook_digest TEXT NOT NULL, 
	about TEXT, 
	source TEXT, 
	content_digest TEXT NOT NULL, 
	previous TEXT NOT NULL, 
	digest TEXT NOT NULL, external_system TEXT, external_id TEXT, 
	PRIMARY KEY (number)
);
INSERT INTO "records" VALUES(1,'0a0a0a0a-0000-4000-8000-000000000001','assessment','2026-03-04T10:00:01.000Z','A-3','S-1','H-017','left_fore','2026-03-04-H-017','finished','release','2026-03-04','1.1.0','sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb',NULL,NULL,'sha256:f6b4f2c71bc2e7ca329a91dedfa9edae15fb1ce1734b9fbbf981e2be46a65f47','sha256:0000000000000000000000000000000000000000000000000000000000000000','sha256:db834c0d4cdaac55b9122c2bb6a5314bcbb41d9f9a115ee2b53453d63c8593fa',NULL,NULL);
INSERT INTO "records" VALUES(2,'0a0a0a0a-0000-4000-8000-000000000002','assessment','2026-03-04T10:00:02.000Z',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'1.1.0','sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb',NULL,NULL,'sha256:59489f934080dc55c6eb8fde8a6c710639c2b7a72fb5023e3912a1a4447071a5','sha256:db834c0d4cdaac55b9122c2bb6a5314bcbb41d9f9a115ee2b53453d63c8593fa','sha256:09e05fb7fc41ffb43570a9b56f01452bf208819c9622bbde1a86c9700fa9c525',NULL,NULL);
INSERT INTO "records" VALUES(3,'0a0a0a0a-0000-4000-8000-000000000003','assessment','2026-03-04T10:00:03.000Z','A-3','S-1','H-017','left_fore','2026-03-04-H-017','finished','put_right','2026-03-04','1.1.0','sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','0a0a0a0a-0000-4000-8000-000000000001',NULL,'sha256:b8fb84056a4902877041eff84f4350c4eb543d3c07a09ca8391c1dccbc5caa9c','sha256:09e05fb7fc41ffb43570a9b56f01452bf208819c9622bbde1a86c9700fa9c525','sha256:523f0b9f9d0f3356f7b472ee93ce020ecd205a4dac318a5e666f60430101ffd2',NULL,NULL);
INSERT INTO "records" VALUES(4,'0a0a0a0a-0000-4000-8000-000000000004','override','2026-03-04T10:00:04.000Z','A-3','S-1','H-017','left_fore','2026-03-04-H-017','finished','release','2026-03-04','1.1.0','sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','0a0a0a0a-0000-4000-8000-000000000003','sha256:cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc','sha256:34cb370b08483a43a01e1131bc80cf1f49818ff6f345793853e0f2e7a45c976d','sha256:523f0b9f9d0f3356f7b472ee93ce020ecd205a4dac318a5e666f60430101ffd2','sha256:73113d79fb0d180beac9b89163877ac4eb417dad89b7b11a55c3bf647d3ca40d',NULL,NULL);
INSERT INTO "records" VALUES(5,'0e0e0e0e-0000-4000-8000-000000000005','erasure','2026-03-05T08:00:00.000Z',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'','',NULL,NULL,'sha256:ba6af2c843a696af71acf34bb659e0b184796fbaad3adac82e5ef7805ed8041b','sha256:73113d79fb0d180beac9b89163877ac4eb417dad89b7b11a55c3bf647d3ca40d','sha256:248d014116bc48b621bcf2d06a9fe2e2a28c4bd625b946cfc82637975d5c8db3',NULL,NULL);
CREATE TABLE records_schema (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT records_schema_pkc PRIMARY KEY (version_num)
);
INSERT INTO "records_schema" VALUES('0007');
CREATE TABLE practice_sessions (
	id TEXT NOT NULL, 
	person TEXT NOT NULL, 
	exercise TEXT NOT NULL, 
	ended TEXT NOT NULL, 
	created TEXT NOT NULL, 
	salt TEXT NOT NULL, 
	session TEXT NOT NULL, 
	PRIMARY KEY (id)
);
CREATE TABLE subscriptions (
	id TEXT NOT NULL, 
	"key" TEXT, 
	created TEXT NOT NULL, 
	url TEXT NOT NULL, 
	secret TEXT NOT NULL, 
	types TEXT NOT NULL, 
	number INTEGER NOT NULL, 
	mark TEXT NOT NULL, 
	delivered TEXT, 
	attempts INTEGER NOT NULL, 
	failing_since TEXT, 
	next_attempt TEXT, 
	last_error TEXT, 
	disabled TEXT, 
	claimed_by TEXT, 
	claimed_until TEXT, 
	PRIMARY KEY (id), 
	FOREIGN KEY("key") REFERENCES access_keys (id)
);
CREATE UNIQUE INDEX records_id ON records (id);
CREATE INDEX practice_sessions_person ON practice_sessions (person, ended, id);
CREATE INDEX records_person ON records (person, number);
CREATE INDEX records_assessor ON records (assessor, number);
CREATE INDEX records_horse ON records (horse, number);
CREATE INDEX records_visit ON records (visit, number);
CREATE INDEX records_decision ON records (decision, number);
CREATE INDEX records_kind ON records (kind, number);
CREATE INDEX records_created ON records (created);
CREATE INDEX records_about ON records (about);
CREATE INDEX idempotency_number ON idempotency (number);
CREATE TRIGGER records_never_removed BEFORE DELETE ON records BEGIN SELECT RAISE(ABORT, 'a record is never removed'); END;
CREATE TRIGGER contents_never_changed BEFORE UPDATE ON contents BEGIN SELECT RAISE(ABORT, 'a content is never changed'); END;
CREATE TRIGGER head_never_back BEFORE UPDATE ON head WHEN NOT (NEW.number >= OLD.number) BEGIN SELECT RAISE(ABORT, 'the head never goes back'); END;
CREATE TRIGGER head_never_removed BEFORE DELETE ON head BEGIN SELECT RAISE(ABORT, 'the head is never removed'); END;
CREATE INDEX key_uses_at ON key_uses (at);
CREATE INDEX key_uses_key ON key_uses ("key", at);
CREATE INDEX idempotency_key ON idempotency ("key");
CREATE INDEX records_visit_horse ON records (visit, horse);
CREATE INDEX records_external ON records (external_id, external_system);
CREATE INDEX records_external_system ON records (external_system, number);
CREATE TRIGGER records_never_changed BEFORE UPDATE ON records WHEN NOT (NEW.number IS  OLD.number AND NEW.id IS  OLD.id AND NEW.kind IS  OLD.kind AND NEW.created IS  OLD.created AND NEW.rulebook_version IS  OLD.rulebook_version AND NEW.rulebook_digest IS  OLD.rulebook_digest AND NEW.about IS  OLD.about AND NEW.source IS  OLD.source AND NEW.content_digest IS  OLD.content_digest AND NEW.previous IS  OLD.previous AND NEW.digest IS  OLD.digest AND NEW.person IS NULL AND NEW.assessor IS NULL AND NEW.horse IS NULL AND NEW.foot IS NULL AND NEW.visit IS NULL AND NEW.stage IS NULL AND NEW.decision IS NULL AND NEW.fitted IS NULL AND NEW.external_system IS NULL AND NEW.external_id IS NULL) BEGIN SELECT RAISE(ABORT, 'a record is never changed'); END;
CREATE TRIGGER contents_only_erased BEFORE DELETE ON contents WHEN NOT (EXISTS (SELECT 1 FROM records WHERE number = OLD.number AND person IS NULL AND assessor IS NULL AND horse IS NULL AND foot IS NULL AND visit IS NULL AND stage IS NULL AND decision IS NULL AND fitted IS NULL AND external_system IS NULL AND external_id IS NULL)) BEGIN SELECT RAISE(ABORT, 'a content goes only with an erasure'); END;
COMMIT;
