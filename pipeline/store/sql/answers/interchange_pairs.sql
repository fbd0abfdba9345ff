-- interchange_pairs. Grain: one row per part and other part of which either may stand in for the other.
select part, can_replace as other from interchange where part <> can_replace
union
select can_replace as part, part as other from interchange where part <> can_replace
