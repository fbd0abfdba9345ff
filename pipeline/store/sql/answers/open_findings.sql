-- open_findings. Grain: one row per booked or running job, assembly and part that its teardown looked at, with the
-- pieces found in each condition. A finding without pieces is one piece at least. decided_pcs are to be replaced though
-- nobody found them failed or worn.
select
    findings.job,
    findings.assembly,
    findings.part,
    coalesce(sum(coalesce(qty_pcs, 1)) filter (where condition in ('failed', 'missing')), 0) as failed_pcs,
    coalesce(sum(coalesce(qty_pcs, 1)) filter (where condition = 'worn'), 0) as worn_pcs,
    coalesce(sum(coalesce(qty_pcs, 1)) filter (where condition = 'good'), 0) as good_pcs,
    coalesce(sum(coalesce(qty_pcs, 1)) filter (where coalesce(condition, 'unknown') = 'unknown'), 0) as unknown_pcs,
    coalesce(sum(coalesce(qty_pcs, 1)) filter (
        where action in ('replace', 'make') and coalesce(condition, 'unknown') in ('good', 'unknown')
    ), 0) as decided_pcs,
    bool_or(qty_pcs is null) as is_guessed
from findings
inner join tidy_jobs as jobs on findings.job = jobs.job
where jobs.status in ('booked', 'in_progress')
group by findings.job, findings.assembly, findings.part
