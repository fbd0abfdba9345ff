-- family_differs_from_machine. Grain: one row per job whose family is not the one its machine is listed with.
select
    'jobs.csv' as file,
    'family' as "column",
    jobs.job || ': ' || jobs.family as value,
    'machine ' || machines.machine || ' is of family ' || machines.family || ': one of the two is wrong' as suggestion
from jobs
inner join machines on jobs.machine = machines.machine
where jobs.family <> machines.family
order by jobs.job
