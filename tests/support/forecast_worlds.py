"""The worlds on which forecasts are proved: laid down before the models were tuned, and not to be changed.

A model that does badly in one of them is to be mended, or its loss reported; no world is dropped, softened or given
another seed. The digests hold the generator to them: it may grow, but these records stay the same to the last byte.
All of it is invented. Twenty worlds stay as they are from first to last day; in five something changes on the way,
before some origins of a proof and after others, so that methods which lean on the past can be seen to suffer.
"""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from pipeline.demo import generate, write
from pipeline.demo.world import Bookings, Changes, Habits, Work, World
from pipeline.ingest import shop_folder

# Shares over FAMILIES: the usual street, a street of old machines, one of late machines, and all alike.
USUAL = (0.17, 0.23, 0.16, 0.31, 0.13)
OLD = (0.36, 0.30, 0.14, 0.14, 0.06)
LATE = (0.05, 0.13, 0.17, 0.38, 0.27)
ALIKE = (0.20, 0.20, 0.20, 0.20, 0.20)

# Shares over SCOPES by family: the usual customers, those who want it to play, those who want it like new.
MIXED = Bookings().scope_shares
QUICK = ((0.62, 0.26, 0.12), (0.64, 0.26, 0.10), (0.62, 0.28, 0.10), (0.66, 0.24, 0.10), (0.72, 0.23, 0.05))
DEEP = ((0.32, 0.34, 0.34), (0.36, 0.34, 0.30), (0.38, 0.34, 0.28), (0.36, 0.36, 0.28), (0.50, 0.36, 0.14))


@dataclass(frozen=True)
class ForecastWorld:
    """A named world with the seed that makes it."""

    name: str
    seed: int
    world: World

    @property
    def is_changing(self):
        return self.world.changes != Changes()


def _world(name, seed, jobs_per_year, sd, *, law="normal", scopes=MIXED, families=USUAL, trend=0.0, season=0.18,
           burst=1.0, with_bookings=True, changes=Changes()):  # noqa: B008 - immutable
    # A bench with room for what is asked: a queue that only grows would prove nothing about use.
    hours = {MIXED: 0.6, QUICK: 0.5, DEEP: 0.8}[scopes] * (1 + 2 * abs(trend))
    bays = max(4 if scopes == DEEP else 3, round(jobs_per_year / 10))
    bookings = Bookings(family_shares=families, scope_shares=scopes, trend_share=trend, season_share=season,
                        burst_jobs=burst)
    return ForecastWorld(name, seed, World(
        jobs_per_year=jobs_per_year, years=4, with_bookings=with_bookings, weekly_hours=round(hours * jobs_per_year, 1),
        bays=bays, bookings=bookings, work=Work(roughness_sd=sd, roughness_law=law), habits=Habits(with_faults=False),
        changes=changes))


STEADY = (
    _world("steady-015", 4101, 15, 0.7),
    _world("steady-018", 4102, 18, 0.5, with_bookings=False, families=OLD),
    _world("steady-021", 4103, 21, 0.9, law="two_kinds", season=0.3),
    _world("steady-025", 4104, 25, 0.4, scopes=DEEP),
    _world("steady-028", 4105, 28, 1.0, with_bookings=False, burst=1.6),
    _world("steady-032", 4106, 32, 0.6, trend=0.12),
    _world("steady-036", 4107, 36, 0.8, families=LATE, scopes=QUICK),
    _world("steady-040", 4108, 40, 0.7, law="two_kinds", with_bookings=False, trend=-0.08),
    _world("steady-045", 4109, 45, 1.0, families=ALIKE, season=0.0),
    _world("steady-050", 4110, 50, 0.5, burst=2.0, scopes=DEEP, families=OLD),
    _world("steady-055", 4111, 55, 0.9, with_bookings=False, season=0.35, scopes=QUICK),
    _world("steady-060", 4112, 60, 0.7),
    _world("steady-066", 4113, 66, 0.6, law="two_kinds", trend=0.08, families=LATE),
    _world("steady-072", 4114, 72, 0.8, with_bookings=False, families=OLD, season=0.1),
    _world("steady-080", 4115, 80, 0.4, burst=1.3, trend=-0.12, season=0.25),
    _world("steady-088", 4116, 88, 1.0, law="two_kinds", scopes=DEEP, families=ALIKE),
    _world("steady-095", 4117, 95, 0.6, with_bookings=False, trend=0.1, burst=1.4),
    _world("steady-104", 4118, 104, 0.8, families=LATE, season=0.0, burst=1.8),
    _world("steady-112", 4119, 112, 0.5, law="two_kinds", with_bookings=False, scopes=QUICK),
    _world("steady-120", 4120, 120, 0.9, trend=0.05, season=0.28),
)
CHANGING = (
    _world("ending-060", 4201, 60, 0.7, changes=Changes(ending_family="solidstate", ending_after_share=0.55)),
    _world("ending-034", 4202, 34, 0.6, with_bookings=False,
           changes=Changes(ending_family="dotmatrix", ending_after_share=0.78)),
    _world("switch-075", 4203, 75, 0.8, season=0.25,
           changes=Changes(thorough_to_fix_only_share=0.6, refresh_to_fix_only_share=0.2, switch_after_share=0.65)),
    _world("habit-more-048", 4204, 48, 0.7, law="two_kinds",
           changes=Changes(policy_log_odds=1.2, policy_after_share=0.6)),
    _world("habit-less-090", 4205, 90, 0.5, families=LATE, burst=1.3,
           changes=Changes(policy_log_odds=-1.5, policy_after_share=0.72)),
)
WORLDS = STEADY + CHANGING

# SHA-256 of the jobs and of what they took, as written.
DIGESTS = {
    "steady-015": "932b774e3d7e907c6be4c706797a06507c612ce9a99e87e75d0e2ff22a8309b6",
    "steady-018": "f8f795924b747e1e1b46449c66f45d90b0f5e882a0bc3c497539b8d395f1b55d",
    "steady-021": "bb4d235205458cd9966633f90a69ffa7fe9af99d6bad1e058e01a42174072dd3",
    "steady-025": "1089e76e3355ef87651fe40c6a6e9562ed8eb8c0f2ff646fe2ada0a9ce2d853d",
    "steady-028": "9067f420d1fdc64e8272ed17d213cffff35954ec7e95189791a3949f5c191fdf",
    "steady-032": "56366e374bcc94a312069029d556419bdcfa440e4e5048ff9d4ecd56c9c49213",
    "steady-036": "c40578a056f6d54c87005092bd81f561bfba8b71cac092bc98045e3971d4e0d5",
    "steady-040": "55264a7d6ecee8ae4702c7b37748cb5feadf7b1316d327dbb232dae74b6909e6",
    "steady-045": "4980447b3b9508494519473d43bc0c4c2eb0fc6f01a6011b1e69f1794f2831b0",
    "steady-050": "eb36924774eddba8a603c0a6b1b4d5d5436eb6f11bd6d7aa2e9d3f1c1b301eb0",
    "steady-055": "e39e643003cd9259a1de90017aa0c9877ec3c9e119c1eedb571432175ce90b7b",
    "steady-060": "9d3ed956440716095e3ca83b244c62eef770612de3c58faca63dfc41db79bb7b",
    "steady-066": "3ea7882bfb3ed8502b5415bc96017a6655c2323450afee6c008f33984a7092b2",
    "steady-072": "3204aaabec3779f119aae33724c0df6b4a0321b1064aaf1fe46d0c83730625a5",
    "steady-080": "aa792301f3da7e65f9b09df7510adfd0179a584237b0233a893b280f11312397",
    "steady-088": "9035b3d513e630e57d0b45190d6a0a98bc08e7df6d7228ee5ebc838a7e1102ed",
    "steady-095": "e08f4e2837284b49b39f238c380477d678787ed7533be76be96efb01ce2b21a8",
    "steady-104": "91bf2518c3e1ad1dc7002b470357ec40115b6cfc9fad6968e0898a159947da1b",
    "steady-112": "791d521f1033471a7b4e6cff53bf026a6bf187bf01b30284f837408340ee355a",
    "steady-120": "c215de899c65c8e91d4216b70c2cd0a8f59ed6b6c09f30828f5d909273fe126c",
    "ending-060": "9b3d1209ad81fe62eeec99b80621bbedded713f717c0141baa23af6e7f1e547f",
    "ending-034": "addbcb942ba535e05641893928ab90c70c26b2855aea5deac970e2441577b6f8",
    "switch-075": "6da4428d993cdc4432977f2b62041c7181a33ae0c6785954f3dbfcff9cbc8005",
    "habit-more-048": "5732b365199858a4640e1848396d9d04eb43181d33e246b89497af2903902a21",
    "habit-less-090": "a7708ee6654a09dc70a03851e09907012e131719da5db37881840982dd521fda",
}


def tables(entry):
    """The records of a world (dict of file name to list of dict)."""
    return generate.simulate(entry.seed, entry.world).tables


def digest(entry):
    """SHA-256 of the files of jobs and of their parts, as they would be written."""
    given, whole = tables(entry), hashlib.sha256()
    for name in ("jobs", "job_parts"):
        columns = write.COLUMNS[name].split()
        for row in given[name]:
            whole.update(("\t".join(write.cell(row.get(column)) for column in columns) + "\n").encode())
    return whole.hexdigest()


def store(entry, path):
    """Write the shop folder of a world beside ``path`` and load it into that DuckDB file; returns the path."""
    path = Path(path)
    folder = path.with_suffix("")
    generate.generate(entry.seed, folder, entry.world)
    shop_folder.load(folder, path, path.with_name(f"{path.stem}-loaded"))
    return path
