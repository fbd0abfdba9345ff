-- stock_movements. Grain: one row per movement of a part on (+) or off (-) the shop's own shelf; job where one took it.
-- A customer's own piece never lies on it. A salvaged or made piece leaves it only if such pieces of that part were
-- ever put on it by a stock move. A taking without a day counts on the day its job was delivered, else begun.
with

taken as (
    select
        uses.part,
        coalesce(uses.used_on, jobs.delivered_on, jobs.started_on, jobs.booked_on) as moved_on,
        -uses.qty_pcs as qty_pcs,
        'used' as kind,
        uses.job
    from tidy_job_parts as uses
    inner join tidy_jobs as jobs on uses.job = jobs.job
    left join shelved_sources as shelved on uses.part = shelved.part and uses.source = shelved.source
    where uses.source = 'new' or shelved.part is not null
)

select part, received_on as moved_on, received_pcs as qty_pcs, 'received' as kind, null as job from tidy_receipts
union all
select part, moved_on, qty_pcs, kind, job from taken
union all
select part, moved_on, qty_pcs, kind, null as job from stock_moves where coalesce(owner, 'shop') = 'shop'
