"""Near misses: names that a misspelt identifier may have meant, never applied."""

# Beyond so many misspelt identifiers the list itself is wrong, and comparing all with all takes long.
MOST_TEXTS = 300
# Where more names than this are equally near (a numbered series), none says more than another.
MOST_NAMES = 5
# A text of so many letters that a name begins with may be that name, cut short.
LEAST_BEGINNING = 4

_NEAREST = f"""
with texts as (select unnest($1::varchar[]) as text),
names as (select unnest($2::varchar[]) as name),
bare_texts as (select text, regexp_replace(lower(text), '[^\\p{{L}}\\p{{N}}]', '', 'g') as bare from texts),
bare_names as (select name, regexp_replace(lower(name), '[^\\p{{L}}\\p{{N}}]', '', 'g') as bare from names),
compared as (
    select
        text,
        name,
        greatest(1, length(t.bare) // 4) as most_slips,
        length(t.bare) >= {LEAST_BEGINNING} and starts_with(n.bare, t.bare) as is_beginning,
        -- A mere beginning comes after every misspelling.
        case when is_beginning
            then least(most_slips + 1, length(n.bare) - length(t.bare))
            else damerau_levenshtein(t.bare, n.bare)
        end as slips
    from bare_texts as t
    inner join bare_names as n
        on abs(length(t.bare) - length(n.bare)) <= greatest(1, length(t.bare) // 4) or starts_with(n.bare, t.bare)
    where t.bare <> ''
),
nearest as (
    select text, list(name order by name) as near
    from (from compared where slips <= most_slips or is_beginning qualify slips = min(slips) over (partition by text))
    group by text
)
select text, near from nearest where len(near) <= {MOST_NAMES}
"""


def nearest(connection, texts, names):
    """Return the names that look like each text, letters and digits alone compared.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    texts, names : sequence of str
        Of the texts, the first ``MOST_TEXTS`` are looked up.

    Returns
    -------
    dict of str to list of str
        At most ``MOST_NAMES`` names, all at the least distance (letters added, dropped, changed or
        swapped; one slip for every four letters at most) or beginning with the text; texts with none are absent.

    Examples
    --------
    >>> import duckdb
    >>> nearest(duckdb.connect(), ["fli coli", "E.M."], ["fli-coil", "em", "dmd"])
    {'fli coli': ['fli-coil'], 'E.M.': ['em']}
    """
    if not len(texts):
        return {}
    found = dict(connection.execute(_NEAREST, [list(texts)[:MOST_TEXTS], list(names)]).fetchall())
    return {text: found[text] for text in texts if text in found}
