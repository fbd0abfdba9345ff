-- enquiry_endings. Grain: one row. What became of all that was asked for and has been answered.
-- A declined job with a booking was taken on first and lost later; one without was never taken on.
select
    count(*) filter (status <> 'declined' or booked_on is not null) as taken_on,
    count(*) filter (status = 'declined' and booked_on is null) as turned_down,
    count(*) filter (status = 'declined' and booked_on is not null) as lost,
    count(*) filter (status = 'delivered') as finished
from tidy_jobs
where status <> 'enquiry'
