-- What a lead asks in SQL. A later version may add columns at the end of a view, no more, so that views
-- a team made of these stay whole.

-- One row a record: the head that laptops show (an edit over a deletion, the later clock, the id).
create or replace view fieldlog.shown as
select
    h.store, h.record_table, h.document, h.id as revision, r.written_by, r.why, r.device,
    to_timestamp((h.clock >> 16) / 1000.0) as written_at, h.rig_id, h.happened_at, h.happened_offset, r.body
from fieldlog.head h
join fieldlog.revision r on r.store = h.store and r.id = h.id
where h.shown and not h.deleted;

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
    h.store, h.document as check_id, h.id as revision, h.rig_id, h.happened_at, h.happened_offset,
    v.stage, v.state, v.verdict, v.verdict in ('pass', 'conditional pass') as good, v.made_by, v.rig_as_written,
    v.hysteresis_pct, v.zero_change_nm, v.up_slope, v.down_slope, v.largest_error_pct,
    v.up_largest_nm, v.up_smallest_nm, v.down_largest_nm, v.down_smallest_nm
from fieldlog.head h
join fieldlog.verdict v on v.store = h.store and v.id = h.id
where h.record_table = 'rig_checks' and h.shown and not h.deleted and h.happened_at is not null;

create or replace view fieldlog.rig_event as
select
    store, document as event_id, rig_id, happened_at, body ->> 'kind' as kind,
    body ->> 'kind' in ('adjusted', 'serviced') as adjusting, body ->> 'note' as note
from fieldlog.shown
where record_table = 'rig_events' and happened_at is not null;

-- One row a check, over all sites: the rig's life.
create or replace view fieldlog.rig_history as
select
    c.rig_id, coalesce(g.rig, c.rig_as_written) as rig, s.site, c.happened_at, c.stage, c.state, c.verdict,
    c.made_by, c.hysteresis_pct, c.zero_change_nm, c.up_slope, c.down_slope, c.largest_error_pct, c.store, c.check_id
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
join fieldlog.revision r on r.store = c.store and r.id = c.revision
cross join lateral fieldlog.elements(r.body -> 'judged' -> 'torque' -> 'points') point
left join fieldlog.rig g on g.rig_id = c.rig_id
left join fieldlog.site s on s.store = c.store;

-- One row a set and direction, with its cover: the same rule as on laptops, over all sites' checks.
-- Checks, events and sets of a rig are laid on one line of time; windows then find for each set the
-- last check before it and the first as-found check after it in one pass.
create or replace view fieldlog.result as
with events as materialized (
    select rig_id, happened_at, kind, adjusting from fieldlog.rig_event
),
placed_checks as (
    -- The place sorts as time does, and tells apart a check that was saved at two sites.
    select
        *,
        (
            lpad((extract(epoch from happened_at) * 1000000)::numeric(20, 0)::text, 20, '0')
            || check_id || '/' || store
        ) collate "C" as place
    from fieldlog.rig_check
),
checks as materialized (
    select
        *, lead(check_id) over following as next_id, lead(good) over following as next_good,
        lead(stage) over following as next_stage, lead(state) over following as next_state,
        lead(store) over following as next_store, lead(happened_at) over following as next_at
    from placed_checks
    window following as (partition by rig_id order by place)
),
closings as materialized (
    -- A conditional fail repeated once, untouched, the same day at the same site: the second counts.
    select
        place, happened_at, case when repeated then next_id else check_id end as counts_id,
        case when repeated then next_good else good end as counts_good,
        case when repeated then next_stage else stage end as counts_stage
    from (
        select *, case
            when verdict = 'conditional fail' and next_state = 'as-found' and next_store = store
                and ((next_at at time zone 'UTC') + happened_offset)::date
                    = ((happened_at at time zone 'UTC') + happened_offset)::date
            then not exists (
                select from events e
                where e.rig_id = c.rig_id and e.happened_at between c.happened_at and c.next_at
            )
            else false
        end as repeated
        from checks c
    ) judged
    where state = 'as-found'
),
line as (
    select
        rig_id, happened_at, case when stage = 'closing' then 2 else 0 end as tie,
        place as check_place, case when state = 'as-found' then place end as found_place,
        null::timestamptz as event_at, null::timestamptz as adjusted_at,
        null::text as store, null::text as set_id, null::text as id, null::interval as happened_offset
    from checks
    union all
    select rig_id, happened_at, 0, null, null, happened_at, null, null, null, null, null from events
    union all
    select rig_id, happened_at, 2, null, null, null, happened_at, null, null, null, null
    from events where adjusting
    union all
    select rig_id, happened_at, 1, null, null, null, null, store, document, id, happened_offset
    from fieldlog.head
    where record_table = 'sets' and shown and not deleted and happened_at is not null
),
placed as (
    select
        *, max(check_place) over before as opening_place, max(event_at) over before as last_event_at,
        min(found_place) over after as closing_place, min(adjusted_at) over after as next_adjusted_at
    from line
    window
        before as (
            partition by rig_id order by happened_at, tie rows between unbounded preceding and current row
        ),
        -- Backwards in time, for a window that only grows is added up in one pass.
        after as (
            partition by rig_id order by happened_at desc, tie desc
            rows between unbounded preceding and current row
        )
),
covered as (
    select
        p.store, p.set_id, p.id, p.rig_id, p.happened_at, o.check_id as last_id, o.happened_at as last_at,
        o.up_largest_nm, o.up_smallest_nm, o.down_largest_nm, o.down_smallest_nm, o.verdict as last_verdict, o.good as last_good, s.same_day,
        coalesce(s.same_day and o.good and not coalesce(p.last_event_at > o.happened_at, false), false) as opened,
        c.counts_id as closing_id, c.counts_good as closing_good, c.counts_stage as closing_stage
    from placed p
    left join checks o on o.place = p.opening_place
    left join closings c
        on c.place = p.closing_place
        and (p.next_adjusted_at is null or p.next_adjusted_at >= c.happened_at)
    cross join lateral (
        select ((o.happened_at at time zone 'UTC') + p.happened_offset)::date
            = ((p.happened_at at time zone 'UTC') + p.happened_offset)::date as same_day
    ) s
    where p.set_id is not null
),
rigs as materialized (
    select rig_id, rig from fieldlog.rig
),
sites as materialized (
    select store, site from fieldlog.site
),
codes as materialized (
    select document as athlete_id, body ->> 'code' as code
    from fieldlog.shown
    where record_table = 'athletes' and store = 'team'
)
select
    site.site, c.happened_at, f.visit_id, coalesce(a.code, f.athlete_id) as athlete, f.athlete_id,
    f.protocol_id as protocol, f.set_number, f.side, f.direction, f.mode, f.standing, f.set_speed_deg_s,
    f.peak_torque_nm, f.work_j, f.peak_torque_cv_pct,
    case
        when c.closing_id is not null and not c.closing_good then 'suspect'
        when not c.opened then 'unverified'
        when c.closing_id is null then 'provisional'
        else 'confirmed'
    end as cover,
    concat_ws('; ',
        case
            when c.opened or (c.closing_id is not null and not c.closing_good) then null
            when c.last_id is null or not c.same_day then 'no check before it on that day'
            when not c.last_good then 'the check before it was a ' || c.last_verdict
            else (
                select 'rig ' || replace(e.kind, '_', ' ') || ' since the check before it'
                from events e
                where e.rig_id = c.rig_id and e.happened_at > c.last_at and e.happened_at <= c.happened_at
                order by e.happened_at limit 1
            )
        end,
        case when c.closing_stage = 'opening' then 'no closing check; closed by the next opening check' end,
        case
            when c.opened and f.peak_torque_nm is not null and not coalesce(
                case
                    when f.direction = 'up'
                    then abs(f.peak_torque_nm) between c.up_smallest_nm and 1.2 * c.up_largest_nm
                    else abs(f.peak_torque_nm) between c.down_smallest_nm and 1.2 * c.down_largest_nm
                end,
                false
            )
            then 'beyond the checked range'
        end
    ) as cover_remark,
    case when c.opened then c.last_id end as opening_id, c.closing_id,
    coalesce(g.rig, c.rig_id) as rig, c.store, c.set_id
from covered c
join fieldlog.figure f on f.store = c.store and f.id = c.id
left join sites site on site.store = c.store
left join rigs g on g.rig_id = c.rig_id
left join codes a on a.athlete_id = f.athlete_id;

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
