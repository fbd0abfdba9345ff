-- tidy_settings. Grain: one row per setting an owner may give, with the value that counts.
-- A value that cannot be read as its kind is as good as not given: the default counts, and a row check says so.
with

latest as (
    select (greatest(coalesce(max(loaded_at)::date, date '2026-01-01'), date '2026-01-01') + interval 10 year)::date as day
    from loads
),

read as (
    select
        shop_keys.key,
        shop_keys.kind,
        shop_keys.default_value,
        shop.value as given_value,
        case
            when shop_keys.kind = 'text' then true
            when shop_keys.kind = 'date'
                then
                    regexp_full_match(shop.value, '\d{4}-\d{2}-\d{2}')
                    and try_cast(shop.value as date) between date '1930-01-01' and latest.day
            when regexp_full_match(shop.value, '[+]?(\d+\.?\d*|\.\d+)')
                then try_cast(shop.value as double) <= case shop_keys.kind
                    when 'share' then 1 when 'days' then 36525 when 'hours' then 10000 else 1e12
                end
        end as is_readable
    from shop_keys
    cross join latest
    left join shop on shop_keys.key = shop.key
)

select
    key,
    kind,
    given_value,
    default_value,
    given_value is not null and coalesce(is_readable, false) as is_given,
    case when given_value is not null and coalesce(is_readable, false) then given_value else default_value end as value
from read
