-- Times are microseconds since 1970 UTC. Ids are UUIDs in text. Digests of blobs
-- are lower-case hexadecimal SHA-256.

-- +goose Up
CREATE TABLE seasons (
    id         text PRIMARY KEY,
    name       text NOT NULL,
    time_zone  text NOT NULL,
    units      text NOT NULL,
    published  boolean NOT NULL,
    revision   bigint NOT NULL,
    created_at bigint NOT NULL,
    updated_at bigint NOT NULL
);

CREATE TABLE events (
    id         text PRIMARY KEY,
    season_id  text NOT NULL REFERENCES seasons (id),
    name       text NOT NULL,
    event_date text NOT NULL,
    date_at    bigint,
    place      text NOT NULL,
    crew       text NOT NULL,
    simulator  text NOT NULL,
    revision   bigint NOT NULL,
    created_at bigint NOT NULL,
    updated_at bigint NOT NULL
);
CREATE INDEX events_of_season ON events (season_id, id);

CREATE TABLE datasets (
    id                text PRIMARY KEY,
    season_id         text NOT NULL REFERENCES seasons (id),
    event_id          text REFERENCES events (id),
    name              text NOT NULL,
    sha256            text NOT NULL,
    bytes             bigint NOT NULL,
    files             text NOT NULL,
    state             text NOT NULL CHECK (state IN ('accepted', 'rejected', 'deleted')),
    errors            bigint NOT NULL,
    warnings          bigint NOT NULL,
    notes             bigint NOT NULL,
    findings_blob     text NOT NULL,
    calibrations_blob text NOT NULL,
    created_by        text NOT NULL,
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
    id         text PRIMARY KEY,
    season_id  text NOT NULL,
    event_id   text,
    dataset_id text NOT NULL REFERENCES datasets (id),
    event_name text NOT NULL,
    run        text NOT NULL,
    simulator  text NOT NULL,
    started    text NOT NULL,
    started_at bigint,
    plots      bigint NOT NULL,
    updated_at bigint NOT NULL,
    UNIQUE (dataset_id, event_name, run)
);
CREATE INDEX runs_of_season ON runs (season_id, id);

CREATE TABLE plots (
    id             text PRIMARY KEY,
    season_id      text NOT NULL,
    event_id       text,
    dataset_id     text NOT NULL REFERENCES datasets (id),
    run_id         text NOT NULL REFERENCES runs (id),
    event_name     text NOT NULL,
    run            text NOT NULL,
    plot           text NOT NULL,
    treatment      text NOT NULL,
    treatment_id   text NOT NULL,
    block          text NOT NULL,
    excluded       boolean NOT NULL,
    exclude_reason text NOT NULL,
    revision       bigint NOT NULL,
    updated_at     bigint NOT NULL,
    UNIQUE (run_id, plot)
);
CREATE INDEX plots_of_season ON plots (season_id, id);
CREATE INDEX plots_of_dataset ON plots (dataset_id);
CREATE INDEX plots_of_treatment ON plots (treatment_id);

CREATE TABLE calibrations (
    id               text PRIMARY KEY,
    season_id        text NOT NULL,
    event_id         text,
    dataset_id       text NOT NULL REFERENCES datasets (id),
    calibration      text NOT NULL,
    simulator        text NOT NULL,
    calibration_date text NOT NULL,
    date_at          bigint,
    cans             bigint NOT NULL,
    updated_at       bigint NOT NULL
);
CREATE INDEX calibrations_of_season ON calibrations (season_id, id);

CREATE TABLE analyses (
    id           text PRIMARY KEY,
    season_id    text NOT NULL REFERENCES seasons (id),
    state        text NOT NULL CHECK (state IN ('accepted', 'running', 'successful', 'failed', 'dismissed')),
    parameters   text NOT NULL,
    provenance   text,
    done         bigint NOT NULL,
    total        bigint NOT NULL,
    failed       bigint NOT NULL,
    created_by   text NOT NULL,
    created_at   bigint NOT NULL,
    updated_at   bigint NOT NULL,
    started_at   bigint,
    finished_at  bigint,
    problem      text,
    progress_seq bigint NOT NULL,
    revision     bigint NOT NULL,
    CHECK (failed <= done AND done <= total)
);
CREATE INDEX analyses_of_season ON analyses (season_id, id);
CREATE INDEX analyses_of_caller ON analyses (created_by) WHERE state IN ('accepted', 'running');

-- One row per dataset of an analysis: a part is recorded by taking its row out of
-- "pending", which succeeds once.
CREATE TABLE analysis_datasets (
    analysis_id text NOT NULL REFERENCES analyses (id),
    position    bigint NOT NULL,
    dataset_id  text NOT NULL REFERENCES datasets (id),
    state       text NOT NULL CHECK (state IN ('pending', 'done', 'failed')),
    part_blob   text NOT NULL,
    problem     text,
    PRIMARY KEY (analysis_id, position),
    UNIQUE (analysis_id, dataset_id)
);
CREATE INDEX analyses_of_dataset ON analysis_datasets (dataset_id);

CREATE TABLE result_tables (
    analysis_id text NOT NULL REFERENCES analyses (id),
    table_name  text NOT NULL,
    encoding    text NOT NULL,
    blob        text NOT NULL,
    bytes       bigint NOT NULL,
    row_count   bigint NOT NULL,
    PRIMARY KEY (analysis_id, table_name, encoding)
);

CREATE TABLE progress_events (
    analysis_id text NOT NULL REFERENCES analyses (id),
    seq         bigint NOT NULL,
    at          bigint NOT NULL,
    data        text NOT NULL,
    PRIMARY KEY (analysis_id, seq)
);

-- Which record names which blob; a blob that none names is swept.
CREATE TABLE blob_uses (
    digest text NOT NULL,
    owner  text NOT NULL,
    PRIMARY KEY (digest, owner)
);
CREATE INDEX blob_uses_of_owner ON blob_uses (owner);

CREATE TABLE access_keys (
    id            text PRIMARY KEY,
    name          text NOT NULL,
    role          text NOT NULL CHECK (role IN ('reader', 'recorder', 'manager')),
    origins       text NOT NULL,
    created_by    text NOT NULL,
    created_at    bigint NOT NULL,
    expires_at    bigint,
    last_used_at  bigint,
    revoked_at    bigint,
    secret_sha256 blob NOT NULL UNIQUE
);

-- The seasons of a key; a key without any is for all. A season that is deleted
-- stays here, since without its row the key would be for all.
CREATE TABLE key_seasons (
    key_id    text NOT NULL REFERENCES access_keys (id),
    season_id text NOT NULL,
    PRIMARY KEY (key_id, season_id)
);

CREATE TABLE idempotent_requests (
    caller       text NOT NULL,
    route        text NOT NULL,
    request_key  text NOT NULL,
    request_hash blob NOT NULL,
    token        text NOT NULL,
    lease_until  bigint NOT NULL,
    expires_at   bigint NOT NULL,
    status       bigint,
    header       text,
    body         blob,
    PRIMARY KEY (caller, route, request_key)
);
CREATE INDEX idempotent_requests_by_end ON idempotent_requests (expires_at);

CREATE TABLE audit_log (
    seq       integer PRIMARY KEY AUTOINCREMENT,
    at        bigint NOT NULL,
    season_id text NOT NULL,
    caller    text NOT NULL,
    action    text NOT NULL,
    object    text NOT NULL,
    detail    text NOT NULL
);
