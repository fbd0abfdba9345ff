-- machine_not_listed. Grain: one row per machine of a job that no machines file lists, once machines are listed.
select
    'jobs.csv' as file,
    'machine' as "column",
    machine as value,
    'not listed in machines; its ' || count(*) || ' jobs are still followed by this name' as suggestion
from jobs
where
    machine is not null
    and exists (select 1 from machines)
    and not exists (select 1 from machines where machines.machine = jobs.machine)
group by machine
order by machine
