-- judged_pieces. Grain: one row per watched job and part: pieces that left the shop new, and pieces left in place, apart
-- by what the job's findings say: worn, good, of unknown condition, or without a finding. Pieces decided to be replaced
-- are not among them. Where more were found than were kept, the good ones are taken to be kept first, then the unknown.
-- Worn are also pieces found failed and yet left in place by their action. A finding without pieces is one piece.
with

found as (
    select
        findings.job,
        findings.part,
        sum(coalesce(findings.qty_pcs, 1)) filter (where findings.condition = 'good') as good_pcs,
        sum(coalesce(findings.qty_pcs, 1)) filter (
            where findings.condition = 'worn' or (findings.condition = 'failed' and findings.action is not null)
        ) as worn_pcs,
        sum(coalesce(findings.qty_pcs, 1)) filter (where coalesce(findings.condition, 'unknown') = 'unknown')
            as unknown_pcs
    from findings
    where coalesce(findings.action, 'keep') not in ('replace', 'make')
    group by findings.job, findings.part
),

kept as (
    select
        watched.job,
        watched.part,
        watched.wear_class,
        watched.new_pcs,
        watched.kept_pcs,
        least(coalesce(found.good_pcs, 0), watched.kept_pcs) as good_pcs,
        coalesce(found.unknown_pcs, 0) as unknown_pcs,
        coalesce(found.worn_pcs, 0) as worn_pcs
    from pieces_watched as watched
    left join found on watched.job = found.job and watched.part = found.part
),

filled as (
    select
        job,
        part,
        wear_class,
        new_pcs,
        kept_pcs,
        good_pcs,
        least(unknown_pcs, kept_pcs - good_pcs) as unknown_pcs,
        greatest(least(worn_pcs, kept_pcs - good_pcs - unknown_pcs), 0) as worn_pcs
    from kept
)

select
    job,
    part,
    wear_class,
    new_pcs,
    cast(worn_pcs as bigint) as worn_pcs,
    cast(unknown_pcs as bigint) as unknown_pcs,
    cast(good_pcs as bigint) as good_pcs,
    cast(kept_pcs - good_pcs - unknown_pcs - worn_pcs as bigint) as unseen_pcs
from filled
