"""Jobs to come by family: those on the books, those still to be booked, and what the bench has room for."""

import pandas as pd

from pipeline.kernels import compound, discrete, job_flow

COLUMNS = ["family", "on_books_jobs", "known_jobs", "unbooked_jobs", "expected_jobs", "low_jobs", "high_jobs"]


def by_family(pipeline, days):
    """Jobs whose use of parts falls in the window, all scopes of a family together.

    Parameters
    ----------
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.
    days : float
        Length of the window from the pipeline's today.

    Returns
    -------
    pandas.DataFrame
        family; on_books_jobs (running, booked, asked for); known_jobs (expected of these within the window: part of a
        job counts as that part), unbooked_jobs (expected of those still to be booked), expected_jobs (both), low_jobs,
        high_jobs (80 % interval; the numbers of a family's scopes are added up as independent).
    """
    share, _ = pipeline.known_share(days)
    known = pipeline.known.assign(share=share)
    rows = []
    for family, streams in pipeline.unbooked(days).groupby("family"):
        here = known[known["family"] == family]
        pmfs = [compound.job_count_pmf(here.loc[here["scope"] == row.scope, "share"].to_numpy(dtype=float),
                                       row.unbooked_mean, row.unbooked_excess)
                for row in streams.itertuples(index=False)]
        low, high = discrete.quantiles(discrete.sum_of(pmfs), [0.1, 0.9])
        of_known, of_new = float(here["share"].sum()), float(streams["unbooked_mean"].sum())
        rows.append((family, len(here), of_known, of_new, of_known + of_new, int(low), int(high)))
    return pd.DataFrame(rows, columns=COLUMNS)


def bench_words(pipeline):
    """What limits the bench, and who stands before it.

    Parameters
    ----------
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.

    Returns
    -------
    str
        Two sentences.
    """
    stages = pipeline.known["stage"].value_counts()
    running, booked, asked = (int(stages.get(stage, 0)) for stage in ("running", "booked", "enquiry"))
    now = f"On the books now: {running} running, {booked} booked and not begun, {asked} asked for."
    if not pipeline.work.is_limited:
        return f"No job was seen to wait for a place: the bench sets no limit here. {now}"
    bench, by_scope, _ = pipeline.work.places
    places = [f"{bench} jobs in all"] if bench < job_flow.UNLIMITED else []
    places += [f"{count} {scope.replace('_', ' ')}" for scope, count in zip(pipeline.work.scopes, by_scope, strict=True)
               if count < job_flow.UNLIMITED]
    return (f"Jobs were seen to wait for a place. At once there is room for {', '.join(places)}: what does not fit "
            f"waits and uses its parts later. {now}")
