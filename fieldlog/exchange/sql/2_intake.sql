-- From a sealed file to rows. Only the base writes rows, so a login that may add files can add no
-- row that no file holds. One transaction holds the file and its rows.

create or replace function fieldlog.instant(written text) returns timestamptz
language plpgsql stable strict set search_path = pg_catalog as $$
begin
    -- Without an offset, or as a word such as now, it would be guessed at.
    return case
        when written ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}T.*(Z|[+-][0-9]{2}:[0-9]{2})$' then written::timestamptz
    end;
exception when others then
    return null;
end
$$;

-- Functions written as one expression are resolved when they are made, whatever the caller's search
-- path is, and become part of the query that calls them.
create or replace function fieldlog.offset_of(written text) returns interval
language sql immutable return
    case
        when written ~ '[+-][0-2][0-9]:[0-5][0-9]$'
        then make_interval(hours => substr(right(written, 6), 2, 2)::int, mins => right(written, 2)::int)
            * case when left(right(written, 6), 1) = '-' then -1 else 1 end
        else interval '0'
    end;

create or replace function fieldlog.number(value jsonb) returns double precision
language sql immutable return
    case when jsonb_typeof(value) = 'number' and abs(value::numeric) < 1e300 then value::double precision end;

create or replace function fieldlog.elements(value jsonb) returns setof jsonb
language sql immutable rows 10 begin atomic
    select jsonb_array_elements(case when jsonb_typeof(value) = 'array' then value else '[]' end);
end;

create or replace function fieldlog.day(written text) returns date
language plpgsql immutable strict set search_path = pg_catalog as $$
begin
    return case when written ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}$' then to_date(written, 'YYYY-MM-DD') end;
exception when others then
    return null;
end
$$;

-- The revisions of one line. An id is the SHA-256 of the exact text of the entry after it; the type
-- json keeps that text as it was written.
create or replace function fieldlog.read_line(line text)
returns table (
    id text, record_table text, document text, parents text[], clock bigint, device text,
    written_by text, why text, body jsonb
)
language sql immutable begin atomic
    select
        entry ->> 0, entry ->> 1, entry ->> 2,
        array(select jsonb_array_elements_text(entry -> 3)),
        (entry ->> 4)::bigint, entry ->> 5, entry ->> 6, entry ->> 7,
        case when jsonb_typeof(entry -> 8) = 'object' then entry -> 8 end
    from (
        -- Read once, not anew for every field.
        select e::jsonb as entry
        from json_array_elements(substr(line, 10)::json) e
        where substr(e::text, 3, 64)
            = encode(sha256(convert_to(substr(e::text, 69, length(e::text) - 69), 'UTF8')), 'hex')
        offset 0
    ) read;
end;

create or replace function fieldlog.keep_lines(of_store text, of_file text, lines text[], first integer)
returns void language plpgsql set search_path = pg_catalog as $$
begin
    insert into fieldlog.revision
    select of_store, r.*, of_file
    from unnest(lines) line cross join lateral fieldlog.read_line(line) r
    where line ~ '^[0-9a-f]{8} \['
    on conflict do nothing;
exception when others then
    -- Halve until the line that cannot be a row stands alone.
    if cardinality(lines) = 1 then
        insert into fieldlog.unread values (of_store, of_file, first, left(sqlerrm, 200)) on conflict do nothing;
    else
        perform fieldlog.keep_lines(of_store, of_file, lines[:cardinality(lines) / 2], first);
        perform fieldlog.keep_lines(
            of_store, of_file, lines[cardinality(lines) / 2 + 1:], first + cardinality(lines) / 2
        );
    end if;
end
$$;

-- The lock lets the files of one store arrive one after the other: numbers become visible in order,
-- so "everything after the last number I saw" misses nothing, and heads see each other's parents.
create or replace function fieldlog.number_file() returns trigger
language plpgsql security definer set search_path = pg_catalog as $$
begin
    perform pg_advisory_xact_lock(hashtextextended('fieldlog ' || new.store, 0));
    new.arrival := nextval('fieldlog.arrivals');
    return new;
end
$$;

-- Mark anew which head is shown, for the records a file speaks of that have not just one head.
create or replace function fieldlog.mark_shown(of_store text, of_file text) returns void
language sql set search_path = pg_catalog as $$
    update fieldlog.head h
    set shown = (h.id = live.first_id)
    from (
        select
            touched.record_table, touched.document,
            (array_agg(other.id order by other.deleted, other.clock desc, other.id collate "C" desc))[1] as first_id
        from (
            select distinct record_table, document from fieldlog.revision
            where store = of_store and file = of_file
        ) touched
        join fieldlog.head other
            on other.store = of_store
            and other.record_table = touched.record_table and other.document = touched.document
        group by touched.record_table, touched.document
        having count(*) > 1 or not bool_and(other.shown)
    ) live
    where h.store = of_store and h.record_table = live.record_table and h.document = live.document
        and h.shown is distinct from (h.id = live.first_id)
$$;

create or replace function fieldlog.take_in() returns trigger
language plpgsql security definer set search_path = pg_catalog as $$
declare
    content text;
begin
    insert into fieldlog.store values (new.store) on conflict do nothing;
    if new.kind <> 'sealed' then
        return null;
    end if;
    begin
        content := convert_from(new.body, 'UTF8');
    exception when others then
        insert into fieldlog.unread values (new.store, new.name, 0, 'it is no text') on conflict do nothing;
        return null;
    end;
    perform fieldlog.keep_lines(new.store, new.name, string_to_array(content, E'\n'), 1);
    insert into fieldlog.superseded
    select r.store, r.record_table, r.document, parent
    from fieldlog.revision r cross join lateral unnest(r.parents) parent
    where r.store = new.store and r.file = new.name
    on conflict do nothing;
    insert into fieldlog.head
    select r.store, r.record_table, r.document, r.id, r.clock, r.body is null, true, r.body ->> 'rig_id',
        case when r.body ? 'at' then fieldlog.instant(r.body ->> 'at') end,
        case when r.body ? 'at' then fieldlog.offset_of(r.body ->> 'at') end
    from fieldlog.revision r
    where r.store = new.store and r.file = new.name and not exists (
        select from fieldlog.superseded s
        where s.store = new.store
            and s.record_table = r.record_table and s.document = r.document and s.id = r.id
    );
    with named as materialized (
        select r.record_table, r.document, unnest(r.parents) as id
        from fieldlog.revision r
        where r.store = new.store and r.file = new.name
    )
    delete from fieldlog.head h
    using named n
    where h.store = new.store and h.record_table = n.record_table and h.document = n.document and h.id = n.id;
    perform fieldlog.mark_shown(new.store, new.name);
    insert into fieldlog.verdict
    select r.store, r.id, r.body ->> 'stage', r.body ->> 'state', r.body ->> 'verdict', r.body ->> 'by',
        r.body -> 'entry' ->> 'rig', fieldlog.number(torque -> 'hysteresis_pct'),
        fieldlog.number(r.body -> 'judged' -> 'zero' -> 'change_nm'),
        fieldlog.number(torque -> 'lines' -> 'up' -> 'slope'), fieldlog.number(torque -> 'lines' -> 'down' -> 'slope'),
        points.*
    from fieldlog.revision r
    cross join lateral (select r.body -> 'judged' -> 'torque' as torque) judged
    cross join lateral (
        select
            max(abs(fieldlog.number(point -> 'error_pct'))),
            max(fieldlog.number(point -> 'reference_nm')) filter (where point ->> 'direction' = 'up'),
            min(fieldlog.number(point -> 'reference_nm')) filter (where point ->> 'direction' = 'up'),
            max(fieldlog.number(point -> 'reference_nm')) filter (where point ->> 'direction' = 'down'),
            min(fieldlog.number(point -> 'reference_nm')) filter (where point ->> 'direction' = 'down')
        from fieldlog.elements(torque -> 'points') point
    ) points
    where r.store = new.store and r.file = new.name and r.record_table = 'rig_checks' and r.body is not null
    on conflict do nothing;
    insert into fieldlog.figure
    select r.store, r.id, direction, r.body ->> 'athlete_id', r.body ->> 'visit_id', r.body ->> 'protocol_id',
        fieldlog.number(r.body -> 'number'), r.body ->> 'side', r.body ->> 'mode', r.body ->> 'standing',
        fieldlog.number(r.body -> 'measures' -> 'set_speed_deg_s'),
        fieldlog.number(one -> 'best_peak_torque_nm'), fieldlog.number(one -> 'total_work_j'),
        fieldlog.number(one -> 'peak_torque_cv_pct')
    from fieldlog.revision r
    cross join (values ('up'), ('down')) directions (direction)
    cross join lateral (select r.body -> 'measures' -> 'set' -> direction as one) figures
    where r.store = new.store and r.file = new.name and r.record_table = 'sets'
        and fieldlog.number(one -> 'movements') > 0
    on conflict do nothing;
    return null;
end
$$;

create or replace trigger number_file before insert on fieldlog.file
for each row execute function fieldlog.number_file();
create or replace trigger take_in after insert on fieldlog.file
for each row execute function fieldlog.take_in();

-- What an erasure names, or speaks of an erased athlete, does not come back.
create or replace function fieldlog.refuse_erased() returns trigger
language plpgsql security definer set search_path = pg_catalog as $$
declare
    athlete text;
begin
    begin
        athlete := convert_from(new.body, 'UTF8')::json ->> 'athlete_id';
    exception when others then
        athlete := null;
    end;
    if exists (
        select from fieldlog.revision r
        where r.store = 'team' and r.record_table = 'erasure'
            and (r.document = athlete or r.body -> 'files' ? replace(new.name, '.json', ''))
    ) then
        return null;
    end if;
    return new;
end
$$;
create index if not exists revision_erasure on fieldlog.revision (document) where record_table = 'erasure';

create or replace trigger refuse_erased before insert on fieldlog.person_file
for each row execute function fieldlog.refuse_erased();
