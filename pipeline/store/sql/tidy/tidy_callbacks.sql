-- tidy_callbacks. Grain: one row per call-back, with the days since its job was delivered.
select
    callbacks.job,
    callbacks.reported_on,
    callbacks.reported_on - jobs.delivered_on as days_since_delivery,
    callbacks.assembly,
    callbacks.part,
    callbacks.part_was,
    callbacks.cause,
    callbacks.hours,
    callbacks.parts_cost,
    callbacks.trip_cost,
    callbacks.charged_amount
from callbacks
inner join jobs on callbacks.job = jobs.job
