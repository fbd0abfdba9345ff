-- setting_of_unknown_kind. Grain: one row per shop setting whose value cannot be read; its default is used.
select
    'shop.csv' as file,
    shop.key as "column",
    shop.value,
    'wanted a ' || shop_keys.kind || '; the default ' || coalesce(shop_keys.default_value, '(none)') || ' is used' as suggestion
from shop
inner join shop_keys on shop.key = shop_keys.key
where
    (shop_keys.kind = 'date' and try_cast(shop.value as date) is null)
    or (shop_keys.kind not in ('date', 'text') and try_cast(shop.value as double) is null)
    or (shop_keys.kind = 'share' and not try_cast(shop.value as double) between 0 and 1)
    or (shop_keys.kind not in ('date', 'text') and try_cast(shop.value as double) < 0)
order by shop.key
