-- A store of schema 0007, with the same rows as the second. Never changed: upgrades are tested from here.
CREATE FUNCTION contents_never_changed() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'a content is never changed'; END$$;
CREATE FUNCTION contents_never_emptied() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'a content goes only with an erasure'; END$$;
CREATE FUNCTION contents_only_erased() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN IF EXISTS (SELECT 1 FROM records WHERE number = OLD.number AND person IS NULL AND assessor IS NULL AND horse IS NULL AND foot IS NULL AND visit IS NULL AND stage IS NULL AND decision IS NULL AND fitted IS NULL AND external_system IS NULL AND external_id IS NULL) THEN RETURN OLD; END IF; RAISE EXCEPTION 'a content goes only with an erasure'; END$$;
CREATE FUNCTION head_never_back() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN IF NEW.number >= OLD.number THEN RETURN NEW; END IF; RAISE EXCEPTION 'the head never goes back'; END$$;
CREATE FUNCTION head_never_emptied() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'the head is never removed'; END$$;
CREATE FUNCTION head_never_removed() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'the head is never removed'; END$$;
CREATE FUNCTION records_never_changed() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN IF NEW.number IS NOT DISTINCT FROM OLD.number AND NEW.id IS NOT DISTINCT FROM OLD.id AND NEW.kind IS NOT DISTINCT FROM OLD.kind AND NEW.created IS NOT DISTINCT FROM OLD.created AND NEW.rulebook_version IS NOT DISTINCT FROM OLD.rulebook_version AND NEW.rulebook_digest IS NOT DISTINCT FROM OLD.rulebook_digest AND NEW.about IS NOT DISTINCT FROM OLD.about AND NEW.source IS NOT DISTINCT FROM OLD.source AND NEW.content_digest IS NOT DISTINCT FROM OLD.content_digest AND NEW.previous IS NOT DISTINCT FROM OLD.previous AND NEW.digest IS NOT DISTINCT FROM OLD.digest AND NEW.person IS NULL AND NEW.assessor IS NULL AND NEW.horse IS NULL AND NEW.foot IS NULL AND NEW.visit IS NULL AND NEW.stage IS NULL AND NEW.decision IS NULL AND NEW.fitted IS NULL AND NEW.external_system IS NULL AND NEW.external_id IS NULL THEN RETURN NEW; END IF; RAISE EXCEPTION 'a record is never changed'; END$$;
CREATE FUNCTION records_never_emptied() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'a record is never removed'; END$$;
CREATE FUNCTION records_never_removed() RETURNS trigger
    LANGUAGE plpgsql
    AS $$BEGIN RAISE EXCEPTION 'a record is never removed'; END$$;
CREATE TABLE access_keys (
    id text NOT NULL COLLATE pg_catalog."C",
    name text NOT NULL COLLATE pg_catalog."C",
    digest text NOT NULL COLLATE pg_catalog."C",
    scopes text NOT NULL COLLATE pg_catalog."C",
    created text NOT NULL COLLATE pg_catalog."C",
    revoked text COLLATE pg_catalog."C",
    last_used text COLLATE pg_catalog."C",
    holder text DEFAULT 'device'::text NOT NULL COLLATE pg_catalog."C",
    until text COLLATE pg_catalog."C"
);
CREATE TABLE contents (
    number bigint NOT NULL,
    salt text NOT NULL COLLATE pg_catalog."C",
    received bytea NOT NULL,
    answer bytea NOT NULL
);
CREATE TABLE desk_sessions (
    digest text NOT NULL COLLATE pg_catalog."C",
    key text NOT NULL COLLATE pg_catalog."C",
    created text NOT NULL COLLATE pg_catalog."C",
    last_seen text NOT NULL COLLATE pg_catalog."C"
);
CREATE TABLE erased_requests (
    digest text NOT NULL COLLATE pg_catalog."C"
);
CREATE TABLE head (
    one integer NOT NULL,
    number bigint NOT NULL,
    digest text NOT NULL COLLATE pg_catalog."C",
    CONSTRAINT head_one_check CHECK ((one = 1))
);
CREATE TABLE idempotency (
    scope text NOT NULL COLLATE pg_catalog."C",
    key text NOT NULL COLLATE pg_catalog."C",
    body_digest text NOT NULL COLLATE pg_catalog."C",
    number bigint NOT NULL,
    created text NOT NULL COLLATE pg_catalog."C",
    seal text COLLATE pg_catalog."C"
);
CREATE TABLE key_uses (
    number bigint NOT NULL,
    key text NOT NULL COLLATE pg_catalog."C",
    at text NOT NULL COLLATE pg_catalog."C",
    request text NOT NULL COLLATE pg_catalog."C",
    method text NOT NULL COLLATE pg_catalog."C",
    route text NOT NULL COLLATE pg_catalog."C",
    status integer NOT NULL
);
CREATE SEQUENCE key_uses_number_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE key_uses_number_seq OWNED BY key_uses.number;
CREATE TABLE origins (
    number bigint NOT NULL,
    origin text NOT NULL COLLATE pg_catalog."C"
);
CREATE TABLE practice_sessions (
    id text NOT NULL COLLATE pg_catalog."C",
    person text NOT NULL COLLATE pg_catalog."C",
    exercise text NOT NULL COLLATE pg_catalog."C",
    ended text NOT NULL COLLATE pg_catalog."C",
    created text NOT NULL COLLATE pg_catalog."C",
    salt text NOT NULL COLLATE pg_catalog."C",
    session text NOT NULL COLLATE pg_catalog."C"
);
CREATE TABLE records (
    number bigint NOT NULL,
    id text NOT NULL COLLATE pg_catalog."C",
    kind text NOT NULL COLLATE pg_catalog."C",
    created text NOT NULL COLLATE pg_catalog."C",
    person text COLLATE pg_catalog."C",
    assessor text COLLATE pg_catalog."C",
    horse text COLLATE pg_catalog."C",
    foot text COLLATE pg_catalog."C",
    visit text COLLATE pg_catalog."C",
    stage text COLLATE pg_catalog."C",
    decision text COLLATE pg_catalog."C",
    fitted text COLLATE pg_catalog."C",
    rulebook_version text NOT NULL COLLATE pg_catalog."C",
    rulebook_digest text NOT NULL COLLATE pg_catalog."C",
    about text COLLATE pg_catalog."C",
    source text COLLATE pg_catalog."C",
    content_digest text NOT NULL COLLATE pg_catalog."C",
    previous text NOT NULL COLLATE pg_catalog."C",
    digest text NOT NULL COLLATE pg_catalog."C",
    external_system text COLLATE pg_catalog."C",
    external_id text COLLATE pg_catalog."C"
);
CREATE TABLE records_schema (
    version_num character varying(32) NOT NULL
);
CREATE TABLE subscriptions (
    id text NOT NULL COLLATE pg_catalog."C",
    key text COLLATE pg_catalog."C",
    created text NOT NULL COLLATE pg_catalog."C",
    url text NOT NULL COLLATE pg_catalog."C",
    secret text NOT NULL COLLATE pg_catalog."C",
    types text NOT NULL COLLATE pg_catalog."C",
    number bigint NOT NULL,
    mark text NOT NULL COLLATE pg_catalog."C",
    delivered text COLLATE pg_catalog."C",
    attempts integer NOT NULL,
    failing_since text COLLATE pg_catalog."C",
    next_attempt text COLLATE pg_catalog."C",
    last_error text COLLATE pg_catalog."C",
    disabled text COLLATE pg_catalog."C",
    claimed_by text COLLATE pg_catalog."C",
    claimed_until text COLLATE pg_catalog."C"
);
ALTER TABLE ONLY key_uses ALTER COLUMN number SET DEFAULT nextval('key_uses_number_seq'::regclass);
INSERT INTO access_keys VALUES ('0123456789ab', 'the yard''s tablet', 'eeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeeee', 'assess read', '2026-03-04T09:00:00.000Z', NULL, '2026-03-04T10:00:00.000Z', 'device', NULL);
INSERT INTO contents VALUES (1, '00000000000000000000000000000001', '\x7b22666f6f74223a20226c6566745f666f7265222c0a20226e6f746573223a2022e282ac227d', '\x7b226465636973696f6e223a2272656c65617365222c2275223a312e307d');
INSERT INTO contents VALUES (3, '00000000000000000000000000000003', '\x7b22666f6f74223a20226c6566745f666f7265222c0a20226e6f746573223a2022e282ac227d', '\x7b226465636973696f6e223a2272656c65617365222c2275223a312e307d');
INSERT INTO contents VALUES (4, '00000000000000000000000000000004', '\x000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f202122232425262728292a2b2c2d2e2f303132333435363738393a3b3c3d3e3f404142434445464748494a4b4c4d4e4f505152535455565758595a5b5c5d5e5f606162636465666768696a6b6c6d6e6f707172737475767778797a7b7c7d7e7f808182838485868788898a8b8c8d8e8f909192939495969798999a9b9c9d9e9fa0a1a2a3a4a5a6a7a8a9aaabacadaeafb0b1b2b3b4b5b6b7b8b9babbbcbdbebfc0c1c2c3c4c5c6c7c8c9cacbcccdcecfd0d1d2d3d4d5d6d7d8d9dadbdcdddedfe0e1e2e3e4e5e6e7e8e9eaebecedeeeff0f1f2f3f4f5f6f7f8f9fafbfcfdfeff', '\x7b226465636973696f6e223a2272656c65617365222c2275223a312e307d');
INSERT INTO contents VALUES (5, '00000000000000000000000000000005', '\x', '\x7b22657261736564223a5b325d2c22726561736f6e223a2261736b6564206f6e207061706572227d');
INSERT INTO head VALUES (1, 5, 'sha256:248d014116bc48b621bcf2d06a9fe2e2a28c4bd625b946cfc82637975d5c8db3');
INSERT INTO idempotency VALUES ('', 'send-1', 'sha256:dddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddddd', 1, '2026-03-04T10:00:01.000Z', NULL);
INSERT INTO key_uses VALUES (1, '0123456789ab', '2026-03-04T10:00:00.000Z', 'r-1', 'POST', '/v1/assessments', 201);
INSERT INTO records VALUES (1, '0a0a0a0a-0000-4000-8000-000000000001', 'assessment', '2026-03-04T10:00:01.000Z', 'A-3', 'S-1', 'H-017', 'left_fore', '2026-03-04-H-017', 'finished', 'release', '2026-03-04', '1.1.0', 'sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb', NULL, NULL, 'sha256:f6b4f2c71bc2e7ca329a91dedfa9edae15fb1ce1734b9fbbf981e2be46a65f47', 'sha256:0000000000000000000000000000000000000000000000000000000000000000', 'sha256:db834c0d4cdaac55b9122c2bb6a5314bcbb41d9f9a115ee2b53453d63c8593fa', NULL, NULL);
INSERT INTO records VALUES (3, '0a0a0a0a-0000-4000-8000-000000000003', 'assessment', '2026-03-04T10:00:03.000Z', 'A-3', 'S-1', 'H-017', 'left_fore', '2026-03-04-H-017', 'finished', 'put_right', '2026-03-04', '1.1.0', 'sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb', '0a0a0a0a-0000-4000-8000-000000000001', NULL, 'sha256:b8fb84056a4902877041eff84f4350c4eb543d3c07a09ca8391c1dccbc5caa9c', 'sha256:09e05fb7fc41ffb43570a9b56f01452bf208819c9622bbde1a86c9700fa9c525', 'sha256:523f0b9f9d0f3356f7b472ee93ce020ecd205a4dac318a5e666f60430101ffd2', NULL, NULL);
INSERT INTO records VALUES (4, '0a0a0a0a-0000-4000-8000-000000000004', 'override', '2026-03-04T10:00:04.000Z', 'A-3', 'S-1', 'H-017', 'left_fore', '2026-03-04-H-017', 'finished', 'release', '2026-03-04', '1.1.0', 'sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb', '0a0a0a0a-0000-4000-8000-000000000003', 'sha256:cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc', 'sha256:34cb370b08483a43a01e1131bc80cf1f49818ff6f345793853e0f2e7a45c976d', 'sha256:523f0b9f9d0f3356f7b472ee93ce020ecd205a4dac318a5e666f60430101ffd2', 'sha256:73113d79fb0d180beac9b89163877ac4eb417dad89b7b11a55c3bf647d3ca40d', NULL, NULL);
INSERT INTO records VALUES (2, '0a0a0a0a-0000-4000-8000-000000000002', 'assessment', '2026-03-04T10:00:02.000Z', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '1.1.0', 'sha256:bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb', NULL, NULL, 'sha256:59489f934080dc55c6eb8fde8a6c710639c2b7a72fb5023e3912a1a4447071a5', 'sha256:db834c0d4cdaac55b9122c2bb6a5314bcbb41d9f9a115ee2b53453d63c8593fa', 'sha256:09e05fb7fc41ffb43570a9b56f01452bf208819c9622bbde1a86c9700fa9c525', NULL, NULL);
INSERT INTO records VALUES (5, '0e0e0e0e-0000-4000-8000-000000000005', 'erasure', '2026-03-05T08:00:00.000Z', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '', '', NULL, NULL, 'sha256:ba6af2c843a696af71acf34bb659e0b184796fbaad3adac82e5ef7805ed8041b', 'sha256:73113d79fb0d180beac9b89163877ac4eb417dad89b7b11a55c3bf647d3ca40d', 'sha256:248d014116bc48b621bcf2d06a9fe2e2a28c4bd625b946cfc82637975d5c8db3', NULL, NULL);
INSERT INTO records_schema VALUES ('0007');
SELECT pg_catalog.setval('key_uses_number_seq', 1, true);
ALTER TABLE ONLY access_keys
    ADD CONSTRAINT access_keys_pkey PRIMARY KEY (id);
ALTER TABLE ONLY contents
    ADD CONSTRAINT contents_pkey PRIMARY KEY (number);
ALTER TABLE ONLY desk_sessions
    ADD CONSTRAINT desk_sessions_pkey PRIMARY KEY (digest);
ALTER TABLE ONLY erased_requests
    ADD CONSTRAINT erased_requests_pkey PRIMARY KEY (digest);
ALTER TABLE ONLY head
    ADD CONSTRAINT head_pkey PRIMARY KEY (one);
ALTER TABLE ONLY idempotency
    ADD CONSTRAINT idempotency_pkey PRIMARY KEY (scope, key);
ALTER TABLE ONLY key_uses
    ADD CONSTRAINT key_uses_pkey PRIMARY KEY (number);
ALTER TABLE ONLY origins
    ADD CONSTRAINT origins_pkey PRIMARY KEY (number);
ALTER TABLE ONLY records
    ADD CONSTRAINT records_pkey PRIMARY KEY (number);
ALTER TABLE ONLY records_schema
    ADD CONSTRAINT records_schema_pkc PRIMARY KEY (version_num);
ALTER TABLE ONLY subscriptions
    ADD CONSTRAINT subscriptions_pkey PRIMARY KEY (id);
ALTER TABLE ONLY practice_sessions
    ADD CONSTRAINT practice_sessions_pkey PRIMARY KEY (id);
CREATE INDEX practice_sessions_person ON practice_sessions USING btree (person, ended, id);
CREATE INDEX idempotency_key ON idempotency USING btree (key);
CREATE INDEX idempotency_number ON idempotency USING btree (number);
CREATE INDEX key_uses_at ON key_uses USING btree (at);
CREATE INDEX key_uses_key ON key_uses USING btree (key, at);
CREATE INDEX records_about ON records USING btree (about);
CREATE INDEX records_assessor ON records USING btree (assessor, number);
CREATE INDEX records_created ON records USING btree (created);
CREATE INDEX records_decision ON records USING btree (decision, number);
CREATE INDEX records_external ON records USING btree (external_id, external_system);
CREATE INDEX records_external_system ON records USING btree (external_system, number);
CREATE INDEX records_horse ON records USING btree (horse, number);
CREATE UNIQUE INDEX records_id ON records USING btree (id);
CREATE INDEX records_kind ON records USING btree (kind, number);
CREATE INDEX records_person ON records USING btree (person, number);
CREATE INDEX records_visit ON records USING btree (visit, number);
CREATE INDEX records_visit_horse ON records USING btree (visit, horse);
CREATE TRIGGER contents_never_changed BEFORE UPDATE ON contents FOR EACH ROW EXECUTE FUNCTION contents_never_changed();
CREATE TRIGGER contents_never_emptied BEFORE TRUNCATE ON contents FOR EACH STATEMENT EXECUTE FUNCTION contents_never_emptied();
CREATE TRIGGER contents_only_erased BEFORE DELETE ON contents FOR EACH ROW EXECUTE FUNCTION contents_only_erased();
CREATE TRIGGER head_never_back BEFORE UPDATE ON head FOR EACH ROW EXECUTE FUNCTION head_never_back();
CREATE TRIGGER head_never_emptied BEFORE TRUNCATE ON head FOR EACH STATEMENT EXECUTE FUNCTION head_never_emptied();
CREATE TRIGGER head_never_removed BEFORE DELETE ON head FOR EACH ROW EXECUTE FUNCTION head_never_removed();
CREATE TRIGGER records_never_changed BEFORE UPDATE ON records FOR EACH ROW EXECUTE FUNCTION records_never_changed();
CREATE TRIGGER records_never_emptied BEFORE TRUNCATE ON records FOR EACH STATEMENT EXECUTE FUNCTION records_never_emptied();
CREATE TRIGGER records_never_removed BEFORE DELETE ON records FOR EACH ROW EXECUTE FUNCTION records_never_removed();
ALTER TABLE ONLY contents
    ADD CONSTRAINT contents_number_fkey FOREIGN KEY (number) REFERENCES records(number);
ALTER TABLE ONLY desk_sessions
    ADD CONSTRAINT desk_sessions_key_fkey FOREIGN KEY (key) REFERENCES access_keys(id);
ALTER TABLE ONLY idempotency
    ADD CONSTRAINT idempotency_number_fkey FOREIGN KEY (number) REFERENCES records(number);
ALTER TABLE ONLY key_uses
    ADD CONSTRAINT key_uses_key_fkey FOREIGN KEY (key) REFERENCES access_keys(id);
ALTER TABLE ONLY origins
    ADD CONSTRAINT origins_number_fkey FOREIGN KEY (number) REFERENCES records(number);
ALTER TABLE ONLY subscriptions
    ADD CONSTRAINT subscriptions_key_fkey FOREIGN KEY (key) REFERENCES access_keys(id);
