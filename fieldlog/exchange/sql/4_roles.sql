-- Two roles, to be given to people's logins. A tester adds and reads, can change or delete nothing and
-- sees no persons files; a lead reads all, and may delete persons files that an erasure names.

do $$
declare
    wanted text;
begin
    foreach wanted in array array['fieldlog_tester', 'fieldlog_lead'] loop
        if not exists (select from pg_catalog.pg_roles where rolname = wanted) then
            begin
                execute format('create role %I nologin', wanted);
            exception when duplicate_object or unique_violation then
                null; -- made by another preparation just now
            end;
        end if;
    end loop;
end
$$;

revoke all on schema fieldlog from public;
revoke all on all tables in schema fieldlog from public, fieldlog_tester, fieldlog_lead;
revoke all on all sequences in schema fieldlog from public, fieldlog_tester, fieldlog_lead;
revoke all on all functions in schema fieldlog from public, fieldlog_tester, fieldlog_lead;

grant usage on schema fieldlog to fieldlog_tester, fieldlog_lead;
grant select on
    fieldlog.base, fieldlog.store, fieldlog.file, fieldlog.revision, fieldlog.superseded, fieldlog.head,
    fieldlog.verdict, fieldlog.figure, fieldlog.unread, fieldlog.shown, fieldlog.conflict, fieldlog.site, fieldlog.rig, fieldlog.rig_check,
    fieldlog.rig_event, fieldlog.rig_history, fieldlog.rig_point, fieldlog.result, fieldlog.due
to fieldlog_tester, fieldlog_lead;
grant insert (store, kind, name, body) on fieldlog.file to fieldlog_tester, fieldlog_lead;
grant insert (name, body) on fieldlog.person_file to fieldlog_tester, fieldlog_lead;
grant select, delete on fieldlog.person_file to fieldlog_lead;
grant execute on function
    fieldlog.number(jsonb), fieldlog.elements(jsonb), fieldlog.day(text)
to fieldlog_tester, fieldlog_lead;
