-- negative_clues_in_takings. Grain: one row per part, or taking of it, and reason to think that fewer pieces of it were
-- taken from the shelf than the book has: from from_on to to_on up to pcs more may have been there.
with

not_new as (
    select
        uses.part,
        7 as rank,
        'salvage or made pieces written as new' as cause,
        date '0001-01-01' as from_on,
        date '9999-12-31' as to_on,
        sum(uses.qty_pcs) as pcs,
        'jobs also took salvaged or made pieces of it that nobody put on the shelf (' || sum(uses.qty_pcs)
        || '): some may have been written as new' as words
    from tidy_job_parts as uses
    left join shelved_sources as shelved on uses.part = shelved.part and uses.source = shelved.source
    where uses.source in ('salvage', 'made') and shelved.part is null
    group by uses.part
),

twice as (
    select
        part,
        8 as rank,
        'a taking written twice' as cause,
        used_on as from_on,
        coalesce(
            (select min(counted_on) from counts where counts.part = uses.part and counts.counted_on >= uses.used_on),
            date '9999-12-31'
        ) as to_on,
        qty_pcs * (count(*) - 1) as pcs,
        'job ' || job || ' has the same taking of ' || qty_pcs || ' on ' || used_on
        || ' more than once: one of them may be written twice' as words
    from tidy_job_parts as uses
    where qty_pcs > 0 and used_on is not null
    group by part, job, used_on, qty_pcs, assembly, source, reason
    having count(*) > 1
)

select part, rank, cause, from_on, to_on, pcs, words from not_new
union all
select part, rank, cause, from_on, to_on, pcs, words from twice
