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

create or replace function fieldlog.offset_of(written text) returns interval
language sql immutable strict set search_path = pg_catalog as $$
    select case
        when written ~ '[+-][0-2][0-9]:[0-5][0-9]$'
        then make_interval(hours => substr(right(written, 6), 2, 2)::int, mins => right(written, 2)::int)
            * case when left(right(written, 6), 1) = '-' then -1 else 1 end
        else interval '0'
    end
$$;

-- The revisions of one line. An id is the SHA-256 of the exact text of the entry after it; the type
-- json keeps that text as it was written.
create or replace function fieldlog.read_line(line text)
returns table (
    id text, record_table text, document text, parents text[], clock bigint, device text,
    written_by text, why text, body jsonb
)
language sql immutable strict set search_path = pg_catalog as $$
    select
        e ->> 0, e ->> 1, e ->> 2,
        array(select json_array_elements_text(e -> 3)),
        (e ->> 4)::bigint, e ->> 5, e ->> 6, e ->> 7,
        case when json_typeof(e -> 8) = 'object' then (e -> 8)::jsonb end
    from json_array_elements(substr(line, 10)::json) e
    where substr(e::text, 3, 64)
        = encode(sha256(convert_to(substr(e::text, 69, length(e::text) - 69), 'UTF8')), 'hex')
$$;

create or replace function fieldlog.keep_lines(of_store text, of_file text, lines text[], first integer)
returns void language plpgsql set search_path = pg_catalog as $$
begin
    insert into fieldlog.revision
    select of_store, r.*,
        case when r.body ? 'at' then fieldlog.instant(r.body ->> 'at') end,
        case when r.body ? 'at' then fieldlog.offset_of(r.body ->> 'at') end,
        of_file
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
    select r.store, r.record_table, r.document, r.id, r.clock, r.body is null
    from fieldlog.revision r
    where r.store = new.store and r.file = new.name and not exists (
        select from fieldlog.superseded s
        where s.store = new.store
            and s.record_table = r.record_table and s.document = r.document and s.id = r.id
    );
    delete from fieldlog.head h
    using fieldlog.revision r cross join lateral unnest(r.parents) parent
    where r.store = new.store and r.file = new.name and h.store = new.store
        and h.record_table = r.record_table and h.document = r.document and h.id = parent;
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
