-- The team base: the files as laptops sealed them, and rows made from them by the base itself.
-- Every table begins its key with the store (a site's id, or 'team'), by which it is partitioned.

create schema if not exists fieldlog;

create table if not exists fieldlog.base (
    one boolean primary key default true check (one),
    id uuid not null default gen_random_uuid()
);
insert into fieldlog.base default values on conflict do nothing;

create sequence if not exists fieldlog.arrivals;

create table if not exists fieldlog.store (
    id text primary key
);

-- What a name says is checked here as on every laptop: a sealed file cannot be held damaged. A
-- recording is named by what was packed, which the base cannot unpack, so it may hold several.
create table if not exists fieldlog.file (
    store text not null check (store ~ '^[A-Za-z0-9]([A-Za-z0-9._-]{0,62}[A-Za-z0-9_-])?$'),
    kind text not null check (kind in ('sealed', 'signatures', 'traces')),
    name text not null,
    body bytea not null check (octet_length(body) <= 268435456),
    digest text not null generated always as (encode(sha256(body), 'hex')) stored,
    arrival bigint not null,
    arrived_at timestamptz not null default now(),
    primary key (store, kind, name, digest),
    check (kind <> 'sealed' or name = digest || '.jsonl'),
    check (kind <> 'signatures' or (name ~ '^[0-9a-f]{64}\.json$' and octet_length(body) <= 4096)),
    check (kind <> 'traces' or name ~ '^[0-9a-f]{64}\.csv\.gz$')
) partition by hash (store);
create index if not exists file_arrival on fieldlog.file (store, kind, arrival);

-- Apart, as on laptops, so that a role can be kept away from it and an erasure can really erase.
create table if not exists fieldlog.person_file (
    name text primary key,
    body bytea not null check (octet_length(body) <= 1048576),
    arrived_at timestamptz not null default now(),
    check (name = encode(sha256(body), 'hex') || '.json')
);

create table if not exists fieldlog.revision (
    store text not null,
    id text not null,
    record_table text not null,
    document text not null,
    parents text[] not null,
    clock bigint not null,
    device text not null,
    written_by text not null,
    why text not null,
    body jsonb,
    file text not null,
    primary key (store, id)
) partition by hash (store);
create index if not exists revision_file on fieldlog.revision (store, file);

-- Revisions that some revision of the same record names as parent, whether they are here yet or not.
create table if not exists fieldlog.superseded (
    store text not null,
    record_table text not null,
    document text not null,
    id text not null,
    primary key (store, record_table, document, id)
) partition by hash (store);

-- The live revisions of each record; where there are several, laptops show the one marked here. Rig and
-- time stand beside them, so that a rig's life is laid out without reading a body.
create table if not exists fieldlog.head (
    store text not null,
    record_table text not null,
    document text not null,
    id text not null,
    clock bigint not null,
    deleted boolean not null,
    shown boolean not null,
    rig_id text,
    happened_at timestamptz,
    happened_offset interval,
    primary key (store, record_table, document, id)
) partition by hash (store);
create index if not exists head_table on fieldlog.head (record_table, store, document);

-- What a rig check found, taken out of the record. References are the largest and smallest checked.
create table if not exists fieldlog.verdict (
    store text not null,
    id text not null,
    stage text,
    state text,
    verdict text,
    made_by text,
    rig_as_written text,
    hysteresis_pct double precision,
    zero_change_nm double precision,
    up_slope double precision,
    down_slope double precision,
    largest_error_pct double precision,
    up_largest_nm double precision,
    up_smallest_nm double precision,
    down_largest_nm double precision,
    down_smallest_nm double precision,
    primary key (store, id)
) partition by hash (store);

-- What a set found in one direction, taken out of the record, so that a thousand results are read as
-- fast as a thousand rows.
create table if not exists fieldlog.figure (
    store text not null,
    id text not null,
    direction text not null,
    athlete_id text,
    visit_id text,
    protocol_id text,
    set_number double precision,
    side text,
    mode text,
    standing text,
    set_speed_deg_s double precision,
    peak_torque_nm double precision,
    work_j double precision,
    peak_torque_cv_pct double precision,
    primary key (store, id, direction)
) partition by hash (store);

-- Lines the base could not turn into rows (for example a zero character in a text); laptops read them.
create table if not exists fieldlog.unread (
    store text not null,
    file text not null,
    line integer not null,
    reason text not null,
    primary key (store, file, line)
) partition by hash (store);

do $$
declare
    parent text;
begin
    foreach parent in array array['file', 'revision', 'superseded', 'head', 'verdict', 'figure', 'unread'] loop
        for part in 0..15 loop
            execute format(
                'create table if not exists fieldlog.%I partition of fieldlog.%I for values with (modulus 16, remainder %s)',
                parent || '_' || lpad(part::text, 2, '0'), parent, part
            );
        end loop;
    end loop;
end
$$;
