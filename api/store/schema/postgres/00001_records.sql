-- The same tables as for SQLite; text sorts by its bytes here as well. Times are microseconds
-- since 1970 UTC. Ids are UUIDs in text. Digests of blobs
-- are lower-case hexadecimal SHA-256.

-- +goose Up
CREATE TABLE seasons (
    id         text COLLATE "C" PRIMARY KEY,
    name       text COLLATE "C" NOT NULL,
    time_zone  text COLLATE "C" NOT NULL,
    units      text COLLATE "C" NOT NULL,
    published  boolean NOT NULL,
    revision   bigint NOT NULL,
    created_at bigint NOT NULL,
    updated_at bigint NOT NULL
);

CREATE TABLE events (
    id         text COLLATE "C" PRIMARY KEY,
    season_id  text COLLATE "C" NOT NULL REFERENCES seasons (id),
    name       text COLLATE "C" NOT NULL,
    event_date text COLLATE "C" NOT NULL,
    date_at    bigint,
    place      text COLLATE "C" NOT NULL,
    crew       text COLLATE "C" NOT NULL,
    simulator  text COLLATE "C" NOT NULL,
    revision   bigint NOT NULL,
    created_at bigint NOT NULL,
    updated_at bigint NOT NULL
);
CREATE INDEX events_of_season ON events (season_id, id);

CREATE TABLE datasets (
    id                text COLLATE "C" PRIMARY KEY,
    season_id         text COLLATE "C" NOT NULL REFERENCES seasons (id),
    event_id          text COLLATE "C" REFERENCES events (id),
    name              text COLLATE "C" NOT NULL,
    sha256            text COLLATE "C" NOT NULL,
    bytes             bigint NOT NULL,
    files             text COLLATE "C" NOT NULL,
    state             text COLLATE "C" NOT NULL CHECK (state IN ('accepted', 'rejected', 'deleted')),
    errors            bigint NOT NULL,
    warnings          bigint NOT NULL,
    notes             bigint NOT NULL,
    findings_blob     text COLLATE "C" NOT NULL,
    calibrations_blob text COLLATE "C" NOT NULL,
    created_by        text COLLATE "C" NOT NULL,
    created_at        bigint NOT NULL,
    updated_at        bigint NOT NULL,
    deleted_at        bigint,
    revision          bigint NOT NULL
);
CREATE INDEX datasets_of_season ON datasets (season_id, id);
CREATE INDEX datasets_of_event ON datasets (event_id);
-- The same bytes into the same season and event are one dataset.
CREATE UNIQUE INDEX datasets_once ON datasets (season_id, COALESCE(event_id, ''), sha256) WHERE state <> 'deleted';

CREATE TABLE runs (
    id         text COLLATE "C" PRIMARY KEY,
    season_id  text COLLATE "C" NOT NULL,
    event_id   text COLLATE "C",
    dataset_id text COLLATE "C" NOT NULL REFERENCES datasets (id),
    event_name text COLLATE "C" NOT NULL,
    run        text COLLATE "C" NOT NULL,
    simulator  text COLLATE "C" NOT NULL,
    started    text COLLATE "C" NOT NULL,
    started_at bigint,
    plots      bigint NOT NULL,
    updated_at bigint NOT NULL,
    UNIQUE (dataset_id, event_name, run)
);
CREATE INDEX runs_of_season ON runs (season_id, id);

CREATE TABLE plots (
    id             text COLLATE "C" PRIMARY KEY,
    season_id      text COLLATE "C" NOT NULL,
    event_id       text COLLATE "C",
    dataset_id     text COLLATE "C" NOT NULL REFERENCES datasets (id),
    run_id         text COLLATE "C" NOT NULL REFERENCES runs (id),
    event_name     text COLLATE "C" NOT NULL,
    run            text COLLATE "C" NOT NULL,
    plot           text COLLATE "C" NOT NULL,
    treatment      text COLLATE "C" NOT NULL,
    treatment_id   text COLLATE "C" NOT NULL,
    block          text COLLATE "C" NOT NULL,
    excluded       boolean NOT NULL,
    exclude_reason text COLLATE "C" NOT NULL,
    revision       bigint NOT NULL,
    updated_at     bigint NOT NULL,
    UNIQUE (run_id, plot)
);
CREATE INDEX plots_of_season ON plots (season_id, id);
CREATE INDEX plots_of_dataset ON plots (dataset_id);
CREATE INDEX plots_of_treatment ON plots (treatment_id);

CREATE TABLE calibrations (
    id               text COLLATE "C" PRIMARY KEY,
    season_id        text COLLATE "C" NOT NULL,
    event_id         text COLLATE "C",
    dataset_id       text COLLATE "C" NOT NULL REFERENCES datasets (id),
    calibration      text COLLATE "C" NOT NULL,
    simulator        text COLLATE "C" NOT NULL,
    calibration_date text COLLATE "C" NOT NULL,
    date_at          bigint,
    cans             bigint NOT NULL,
    updated_at       bigint NOT NULL
);
CREATE INDEX calibrations_of_season ON calibrations (season_id, id);

CREATE TABLE analyses (
    id           text COLLATE "C" PRIMARY KEY,
    season_id    text COLLATE "C" NOT NULL REFERENCES seasons (id),
    state        text COLLATE "C" NOT NULL CHECK (state IN ('accepted', 'running', 'successful', 'failed', 'dismissed')),
    parameters   text COLLATE "C" NOT NULL,
    provenance   text COLLATE "C",
    done         bigint NOT NULL,
    total        bigint NOT NULL,
    failed       bigint NOT NULL,
    created_by   text COLLATE "C" NOT NULL,
    created_at   bigint NOT NULL,
    updated_at   bigint NOT NULL,
    started_at   bigint,
    finished_at  bigint,
    problem      text COLLATE "C",
    progress_seq bigint NOT NULL,
    revision     bigint NOT NULL,
    CHECK (failed <= done AND done <= total)
);
CREATE INDEX analyses_of_season ON analyses (season_id, id);
CREATE INDEX analyses_of_caller ON analyses (created_by) WHERE state IN ('accepted', 'running');

-- One row per dataset of an analysis: a part is recorded by taking its row out of
-- "pending", which succeeds once.
CREATE TABLE analysis_datasets (
    analysis_id text COLLATE "C" NOT NULL REFERENCES analyses (id),
    position    bigint NOT NULL,
    dataset_id  text COLLATE "C" NOT NULL REFERENCES datasets (id),
    state       text COLLATE "C" NOT NULL CHECK (state IN ('pending', 'done', 'failed')),
    part_blob   text COLLATE "C" NOT NULL,
    problem     text COLLATE "C",
    PRIMARY KEY (analysis_id, position),
    UNIQUE (analysis_id, dataset_id)
);
CREATE INDEX analyses_of_dataset ON analysis_datasets (dataset_id);

CREATE TABLE result_tables (
    analysis_id text COLLATE "C" NOT NULL REFERENCES analyses (id),
    table_name  text COLLATE "C" NOT NULL,
    encoding    text COLLATE "C" NOT NULL,
    blob        text COLLATE "C" NOT NULL,
    bytes       bigint NOT NULL,
    row_count   bigint NOT NULL,
    PRIMARY KEY (analysis_id, table_name, encoding)
);

CREATE TABLE progress_events (
    analysis_id text COLLATE "C" NOT NULL REFERENCES analyses (id),
    seq         bigint NOT NULL,
    at          bigint NOT NULL,
    data        text COLLATE "C" NOT NULL,
    PRIMARY KEY (analysis_id, seq)
);

-- Which record names which blob; a blob that none names is swept.
CREATE TABLE blob_uses (
    digest text COLLATE "C" NOT NULL,
    owner  text COLLATE "C" NOT NULL,
    PRIMARY KEY (digest, owner)
);
CREATE INDEX blob_uses_of_owner ON blob_uses (owner);

CREATE TABLE access_keys (
    id            text COLLATE "C" PRIMARY KEY,
    name          text COLLATE "C" NOT NULL,
    role          text COLLATE "C" NOT NULL CHECK (role IN ('reader', 'recorder', 'manager')),
    origins       text COLLATE "C" NOT NULL,
    created_by    text COLLATE "C" NOT NULL,
    created_at    bigint NOT NULL,
    expires_at    bigint,
    last_used_at  bigint,
    revoked_at    bigint,
    secret_sha256 bytea NOT NULL UNIQUE
);

-- The seasons of a key; a key without any is for all. A season that is deleted
-- stays here, since without its row the key would be for all.
CREATE TABLE key_seasons (
    key_id    text COLLATE "C" NOT NULL REFERENCES access_keys (id),
    season_id text COLLATE "C" NOT NULL,
    PRIMARY KEY (key_id, season_id)
);

CREATE TABLE idempotent_requests (
    caller       text COLLATE "C" NOT NULL,
    route        text COLLATE "C" NOT NULL,
    request_key  text COLLATE "C" NOT NULL,
    request_hash bytea NOT NULL,
    token        text COLLATE "C" NOT NULL,
    lease_until  bigint NOT NULL,
    expires_at   bigint NOT NULL,
    status       bigint,
    header       text COLLATE "C",
    body         bytea,
    PRIMARY KEY (caller, route, request_key)
);
CREATE INDEX idempotent_requests_by_end ON idempotent_requests (expires_at);

CREATE TABLE audit_log (
    seq       bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at        bigint NOT NULL,
    season_id text COLLATE "C" NOT NULL,
    caller    text COLLATE "C" NOT NULL,
    action    text COLLATE "C" NOT NULL,
    object    text COLLATE "C" NOT NULL,
    detail    text COLLATE "C" NOT NULL
);
