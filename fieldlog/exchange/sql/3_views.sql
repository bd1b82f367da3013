-- What a lead asks in SQL. A later version may add columns at the end of a view, no more, so that views
-- a team made of these stay whole.

create or replace function fieldlog.number(value jsonb) returns double precision
language sql immutable strict set search_path = pg_catalog as $$
    select case
        when jsonb_typeof(value) = 'number' and abs(value::numeric) < 1e300 then value::double precision
    end
$$;

create or replace function fieldlog.elements(value jsonb) returns setof jsonb
language sql immutable set search_path = pg_catalog rows 10 as $$
    select jsonb_array_elements(case when jsonb_typeof(value) = 'array' then value else '[]' end)
$$;

create or replace function fieldlog.day(written text) returns date
language plpgsql immutable strict set search_path = pg_catalog as $$
begin
    return case when written ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}$' then to_date(written, 'YYYY-MM-DD') end;
exception when others then
    return null;
end
$$;

-- One row a record: the head that laptops show (an edit over a deletion, the later clock, the id).
create or replace view fieldlog.shown as
select
    h.store, h.record_table, h.document, h.id as revision, r.written_by, r.why, r.device,
    to_timestamp((r.clock >> 16) / 1000.0) as written_at, r.happened_at, r.happened_offset, r.body
from (
    select distinct on (store, record_table, document) store, record_table, document, id
    from fieldlog.head
    order by store, record_table, document, deleted, clock desc, id collate "C" desc
) h
join fieldlog.revision r on r.store = h.store and r.id = h.id
where r.body is not null;

create or replace view fieldlog.conflict as
select
    h.store, h.record_table, h.document, count(*) as heads,
    array_agg(r.written_by order by r.clock) as written_by,
    array_agg(h.id order by r.clock) as revisions
from (
    select store, record_table, document from fieldlog.head group by 1, 2, 3 having count(*) > 1
) several
join fieldlog.head h using (store, record_table, document)
join fieldlog.revision r on r.store = h.store and r.id = h.id
group by 1, 2, 3
having count(distinct coalesce(r.body::text, 'deleted')) > 1;

create or replace view fieldlog.site as
select store, body ->> 'name' as site, fieldlog.number(body -> 'latitude_deg') as latitude_deg,
    fieldlog.number(body -> 'height_m') as height_m
from fieldlog.shown
where record_table = 'site' and document = store;

create or replace view fieldlog.rig as
select document as rig_id, body ->> 'name' as rig, body ->> 'serial' as serial, body ->> 'firmware' as firmware
from fieldlog.shown
where record_table = 'rigs' and store = 'team';

create or replace view fieldlog.rig_check as
select
    store, document as check_id, body ->> 'rig_id' as rig_id, happened_at, happened_offset,
    body ->> 'stage' as stage, body ->> 'state' as state, body ->> 'verdict' as verdict,
    body ->> 'verdict' in ('pass', 'conditional pass') as good, body ->> 'by' as made_by,
    body -> 'entry' ->> 'rig' as rig_as_written, body -> 'judged' as judged
from fieldlog.shown
where record_table = 'rig_checks' and happened_at is not null;

create or replace view fieldlog.rig_event as
select
    store, document as event_id, body ->> 'rig_id' as rig_id, happened_at, body ->> 'kind' as kind,
    body ->> 'kind' in ('adjusted', 'serviced') as adjusting, body ->> 'note' as note
from fieldlog.shown
where record_table = 'rig_events' and happened_at is not null;

-- One row a check, over all sites: the rig's life.
create or replace view fieldlog.rig_history as
select
    c.rig_id, coalesce(g.rig, c.rig_as_written) as rig, s.site, c.happened_at, c.stage, c.state, c.verdict,
    c.made_by,
    fieldlog.number(c.judged -> 'torque' -> 'hysteresis_pct') as hysteresis_pct,
    fieldlog.number(c.judged -> 'zero' -> 'change_nm') as zero_change_nm,
    fieldlog.number(c.judged -> 'torque' -> 'lines' -> 'up' -> 'slope') as up_slope,
    fieldlog.number(c.judged -> 'torque' -> 'lines' -> 'down' -> 'slope') as down_slope,
    (
        select max(abs(fieldlog.number(point -> 'error_pct')))
        from fieldlog.elements(c.judged -> 'torque' -> 'points') point
    ) as largest_error_pct,
    c.store, c.check_id
from fieldlog.rig_check c
left join fieldlog.rig g on g.rig_id = c.rig_id
left join fieldlog.site s on s.store = c.store;

-- One row a torque point of a check.
create or replace view fieldlog.rig_point as
select
    c.rig_id, coalesce(g.rig, c.rig_as_written) as rig, s.site, c.happened_at, c.stage, c.state,
    fieldlog.number(point -> 'mass_kg') as mass_kg, point ->> 'direction' as direction,
    fieldlog.number(point -> 'reference_nm') as reference_nm, fieldlog.number(point -> 'reading_nm') as reading_nm,
    fieldlog.number(point -> 'error_nm') as error_nm, fieldlog.number(point -> 'error_pct') as error_pct,
    fieldlog.number(point -> 'u_expanded_nm') as u_expanded_nm, point ->> 'verdict' as verdict,
    c.store, c.check_id
from fieldlog.rig_check c
cross join lateral fieldlog.elements(c.judged -> 'torque' -> 'points') point
left join fieldlog.rig g on g.rig_id = c.rig_id
left join fieldlog.site s on s.store = c.store;

-- One row a set and direction, with its cover: the same rule as on laptops, over all sites' checks.
-- Checks, events and sets of a rig are laid on one line of time; windows then find for each set the
-- last check before it and the first as-found check after it in one pass.
create or replace view fieldlog.result as
with checks as materialized (
    select
        c.*,
        lead(c.place) over (partition by c.rig_id order by c.place) as next_place
    from (
        -- Sorts as time does, and tells apart a check that was saved at two sites.
        select *, (
            lpad((extract(epoch from happened_at) * 1000000)::numeric(20, 0)::text, 20, '0')
            || check_id || '/' || store
        ) collate "C" as place
        from fieldlog.rig_check
    ) c
),
events as materialized (
    select * from fieldlog.rig_event
),
judged as materialized (
    -- A conditional fail repeated once, untouched, the same day at the same site: the second counts.
    select
        c.place,
        case when repeated.check_id is null then c.check_id else repeated.check_id end as counts_id,
        case when repeated.check_id is null then c.good else repeated.good end as counts_good,
        case when repeated.check_id is null then c.stage else repeated.stage end as counts_stage
    from checks c
    left join checks repeated
        on c.verdict = 'conditional fail' and repeated.place = c.next_place and repeated.rig_id = c.rig_id
        and repeated.state = 'as-found' and repeated.store = c.store
        and ((repeated.happened_at at time zone 'UTC') + c.happened_offset)::date
            = ((c.happened_at at time zone 'UTC') + c.happened_offset)::date
        and not exists (
            select from events e
            where e.rig_id = c.rig_id and e.happened_at between c.happened_at and repeated.happened_at
        )
),
sets as materialized (
    select store, document as set_id, happened_at, happened_offset, body from fieldlog.shown
    where record_table = 'sets' and happened_at is not null
),
line as (
    select rig_id, happened_at, case when stage = 'closing' then 2 else 0 end as tie,
        place as check_place, case when state = 'as-found' then place end as found_place,
        null::timestamptz as event_at, null::timestamptz as adjusted_at, null::text as store, null::text as set_id
    from checks
    union all
    select rig_id, happened_at, 0, null, null, happened_at, null, null, null from events
    union all
    select rig_id, happened_at, 2, null, null, null, happened_at, null, null from events where adjusting
    union all
    select body ->> 'rig_id', happened_at, 1, null, null, null, null, store, set_id from sets
),
placed as (
    select
        store, set_id,
        max(check_place) over before as opening_place, max(event_at) over before as last_event_at,
        min(found_place) over after as closing_place, min(adjusted_at) over after as adjusted_at
    from line
    window
        before as (partition by rig_id order by happened_at, tie rows between unbounded preceding and current row),
        after as (partition by rig_id order by happened_at, tie rows between current row and unbounded following)
),
covered as (
    select
        s.*, o.check_id as last_id, o.happened_at as last_at, o.verdict as last_verdict, o.judged as last_judged,
        ((o.happened_at at time zone 'UTC') + s.happened_offset)::date
            = ((s.happened_at at time zone 'UTC') + s.happened_offset)::date as same_day,
        o.good as last_good, p.last_event_at > o.happened_at as disturbed,
        case when p.adjusted_at is null or p.adjusted_at >= c.happened_at then j.counts_id end as closing_id,
        case when p.adjusted_at is null or p.adjusted_at >= c.happened_at then j.counts_good end as closing_good,
        case when p.adjusted_at is null or p.adjusted_at >= c.happened_at then j.counts_stage end as closing_stage
    from sets s
    join placed p on p.store = s.store and p.set_id = s.set_id
    left join checks o on o.place = p.opening_place and o.rig_id = s.body ->> 'rig_id'
    left join checks c on c.place = p.closing_place and c.rig_id = s.body ->> 'rig_id'
    left join judged j on j.place = c.place
),
figures as (
    select
        c.*, direction, figure,
        coalesce(c.same_day and c.last_good and not coalesce(c.disturbed, false), false) as opened
    from covered c
    cross join lateral (values ('up'), ('down')) d (direction)
    cross join lateral (select c.body -> 'measures' -> 'set' -> d.direction as figure) f
    where fieldlog.number(figure -> 'movements') > 0
)
select
    site.site, f.happened_at, f.body ->> 'visit_id' as visit_id,
    coalesce(a.body ->> 'code', f.body ->> 'athlete_id') as athlete, f.body ->> 'athlete_id' as athlete_id,
    f.body ->> 'protocol_id' as protocol, fieldlog.number(f.body -> 'number') as set_number,
    f.body ->> 'side' as side, f.direction, f.body ->> 'mode' as mode, f.body ->> 'standing' as standing,
    fieldlog.number(f.body -> 'measures' -> 'set_speed_deg_s') as set_speed_deg_s,
    fieldlog.number(f.figure -> 'best_peak_torque_nm') as peak_torque_nm,
    fieldlog.number(f.figure -> 'total_work_j') as work_j,
    fieldlog.number(f.figure -> 'peak_torque_cv_pct') as peak_torque_cv_pct,
    case
        when f.closing_id is not null and not f.closing_good then 'suspect'
        when not f.opened then 'unverified'
        when f.closing_id is null then 'provisional'
        else 'confirmed'
    end as cover,
    concat_ws('; ',
        case
            when f.opened or (f.closing_id is not null and not f.closing_good) then null
            when f.last_id is null or not f.same_day then 'no check before it on that day'
            when not f.last_good then 'the check before it was a ' || f.last_verdict
            else (
                select 'rig ' || replace(e.kind, '_', ' ') || ' since the check before it'
                from fieldlog.rig_event e
                where e.rig_id = f.body ->> 'rig_id' and e.happened_at > f.last_at and e.happened_at <= f.happened_at
                order by e.happened_at limit 1
            )
        end,
        case when f.closing_stage = 'opening' then 'no closing check; closed by the next opening check' end,
        case
            when f.opened and f.figure -> 'best_peak_torque_nm' <> 'null' and not (
                select coalesce(
                    abs(fieldlog.number(f.figure -> 'best_peak_torque_nm')) <= 1.2 * max(fieldlog.number(point -> 'reference_nm'))
                    and abs(fieldlog.number(f.figure -> 'best_peak_torque_nm')) >= min(fieldlog.number(point -> 'reference_nm')),
                    false
                )
                from fieldlog.elements(f.last_judged -> 'torque' -> 'points') point
                where point ->> 'direction' = f.direction
            )
            then 'beyond the checked range'
        end
    ) as cover_remark,
    case when f.opened then f.last_id end as opening_id, f.closing_id,
    coalesce(g.rig, f.body ->> 'rig_id') as rig, f.store, f.set_id
from figures f
left join fieldlog.site site on site.store = f.store
left join fieldlog.rig g on g.rig_id = f.body ->> 'rig_id'
left join fieldlog.shown a
    on a.record_table = 'athletes' and a.store = 'team' and a.document = f.body ->> 'athlete_id';

-- What falls due: certificates of reference standards, and for each rig when it was last checked.
create or replace view fieldlog.due as
select
    'certificate' as what, body ->> 'name' as name,
    fieldlog.day(body -> 'certificate' ->> 'due_on') as due_on,
    fieldlog.day(body -> 'certificate' ->> 'due_on') - current_date as days
from fieldlog.shown
where record_table = 'standards' and store = 'team' and fieldlog.day(body -> 'certificate' ->> 'due_on') is not null
union all
select 'last check', coalesce(g.rig, c.rig_id), max(c.happened_at)::date, max(c.happened_at)::date - current_date
from fieldlog.rig_check c
left join fieldlog.rig g on g.rig_id = c.rig_id
group by coalesce(g.rig, c.rig_id);
