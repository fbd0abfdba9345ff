"""Everything the stock decisions rest on, read and fitted once."""

import datetime
from dataclasses import dataclass

import pandas as pd

from pipeline.decisions import offer_book
from pipeline.models import job_pipeline, lead_times, reservations, shelf_demand, stock, use_per_job
from pipeline.store import read


@dataclass(frozen=True)
class StockFacts:
    """Records and fits behind the stock decisions.

    Attributes
    ----------
    today : datetime.date
    settings : pipeline.store.read.Settings
    positions : pandas.DataFrame
        Stock, price and doubts of every part (:func:`pipeline.models.stock.positions`).
    terms : pandas.DataFrame
        Freight, minimum and past orders of every vendor (view ``vendor_terms``).
    book : pipeline.decisions.offer_book.OfferBook
    use : pipeline.models.use_per_job.UsePerJob
    pipeline : pipeline.models.job_pipeline.JobPipeline
    reservations : pipeline.models.reservations.Reservations
    lead_times : pipeline.models.lead_times.LeadTimes
    demand : pipeline.models.shelf_demand.ShelfDemand
        Rows in the order of ``positions``.
    missing : pandas.DataFrame
        Optional files that are absent, with what each would unlock.
    """

    today: datetime.date
    settings: read.Settings
    positions: pd.DataFrame
    terms: pd.DataFrame
    book: offer_book.OfferBook
    use: use_per_job.UsePerJob
    pipeline: job_pipeline.JobPipeline
    reservations: reservations.Reservations
    lead_times: lead_times.LeadTimes
    demand: shelf_demand.ShelfDemand
    missing: pd.DataFrame


def gather(connection, today=None):
    """Read and fit.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    today : datetime.date, optional
        Day the decisions speak of; default the shop's today.

    Returns
    -------
    StockFacts
        Absent files give empty frames, never an error.
    """
    settings = read.settings(connection)
    today = today or settings.today
    positions, terms = stock.positions(connection, today), read.frame(connection, "vendor_terms")
    use, pipeline = use_per_job.fit(connection), job_pipeline.fit(connection, today)
    reserved = reservations.fit(connection, pipeline)
    return StockFacts(
        today, settings, positions, terms, offer_book.open_book(connection, terms, settings.labour_cost), use, pipeline,
        reserved, lead_times.fit(connection, today), shelf_demand.predict(positions["part"], use, reserved),
        read.missing_files(connection))
