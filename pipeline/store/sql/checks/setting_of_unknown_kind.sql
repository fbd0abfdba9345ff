-- setting_of_unknown_kind. Grain: one row per shop setting whose value cannot be read; its default is used.
select
    'shop.csv' as file,
    key as "column",
    given_value as value,
    case kind
        when 'date' then 'wanted a day as 2025-03-09, from 1930-01-01 to ten years after this load'
        when 'share' then 'wanted a share from 0 to 1, as 0.25'
        when 'days' then 'wanted a number from 0 to 36525, as 90'
        when 'hours' then 'wanted a number from 0 to 10000, as 30'
        else 'wanted a number, 0 or more, as 12.5'
    end || '; until then ' || coalesce('the default ' || default_value, 'its default') || ' is used' as suggestion
from tidy_settings
where given_value is not null and not is_given
order by key
