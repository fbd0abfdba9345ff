-- Every table of the shop, said once: columns, types, keys, rules. The loader reads these rules back
-- from DuckDB's catalogue, so a rule written here is a rule enforced and explained.
-- The remark behind a column becomes its COMMENT (meaning and unit); the remark above a table becomes the
-- table's. What follows "Unlocks:" is said to the owner when that file is absent.
-- Identity of a row: PRIMARY KEY, else UNIQUE, else row_hash (all its values).
-- Amounts are in the shop's one currency; empty means unknown, never zero.

-- Store: which edition of this file built the store.
create table store_version (
    version integer primary key, -- number of the newest migration applied
    built_by varchar not null -- release that wrote it
);

-- Loads: one row for each time a shop folder was taken in.
create table loads (
    load_no integer primary key, -- 1, 2, 3 ... in order of loading
    loaded_at timestamp not null, -- time of the load, local
    folder varchar not null, -- name of the folder or workbook, without its path
    digest varchar not null -- checksum of the files' bytes; the same folder again changes nothing
);

-- Load files: what became of the rows of each file. rows_in = rows_loaded + rows_set_aside, always.
create table load_files (
    load_no integer not null references loads (load_no), -- load it belongs to
    file varchar not null, -- file name
    rows_in bigint not null, -- data rows found in the file, count
    rows_loaded bigint not null, -- rows now in the store, new or unchanged, count
    rows_set_aside bigint not null, -- rows that broke a rule, count
    holds varchar not null, -- table of the contract that the file holds
    primary key (load_no, file),
    check (rows_in = rows_loaded + rows_set_aside)
);

-- Records: every row set aside, every repair and every remark, as listed to the owner.
create table records (
    load_no integer not null references loads (load_no), -- load it belongs to
    file varchar not null, -- file name
    line bigint, -- line in the file, counted from 1 with the header; empty for the whole file
    "column" varchar, -- column of the value
    value varchar, -- what was found, as written
    rule varchar not null, -- name of the rule
    suggestion varchar, -- what was wanted and what to do
    outcome varchar not null check (outcome in ('set_aside', 'repaired', 'noted')) -- what became of it
);

-- Set-aside rows: the whole row as it was typed, so that nothing is lost. Those of the newest load wait: each load
-- tries again the ones whose file it does not bear.
create table set_aside_rows (
    load_no integer not null references loads (load_no), -- load it belongs to
    file varchar not null, -- file name
    line bigint not null, -- line in the file; below 0 for a row that was in the store before
    cells varchar not null, -- the row as a JSON object, column to text
    holds varchar not null, -- table of the contract that the file holds
    mended varchar -- the row as far as it could be mended, JSON; empty = its cells cannot be told apart
);

-- Mended rows: what the owner made of a row, in a workbook of rows set aside (the same row met again is read as this)
-- or by a correction; changed again, the new row takes the place of the one that stands in the store.
create table mended_rows (
    load_no integer not null references loads (load_no), -- load that brought the mend
    holds varchar not null, -- table of the contract
    cells varchar not null, -- the row as first typed, JSON
    mended varchar not null, -- the row as the owner mended it, JSON
    brought_by varchar not null check (brought_by in ('workbook', 'corrections')), -- where the owner mended it
    place varchar, -- load, file and line of the row set aside, JSON; empty = not of a workbook, or not known
    made varchar -- the row that the mend brought into the store, as read, JSON; empty = none, or it was there before
);

-- Shop keys: the settings an owner may give in the shop file.
create table shop_keys (
    key varchar primary key, -- setting
    kind varchar not null check (kind in ('text', 'amount', 'hours', 'days', 'share', 'number', 'date')), -- what its value must be
    default_value varchar, -- used when the owner gives none; empty = not used or taken from the records
    meaning varchar not null -- what it is, with unit
);

-- Shop settings. Unlocks: your own rates, warranty, trip costs and cash limit instead of stated defaults.
create table shop (
    key varchar primary key references shop_keys (key), -- setting
    value varchar, -- its value, as typed; empty = not given, its default is used
    extra varchar -- columns beyond the contract, JSON
);

-- Families: generations of machine. Unlocks: full family names; without it families are taken from jobs.
create table families (
    family varchar primary key, -- own code
    name varchar not null, -- name shown
    note varchar, -- remark
    extra varchar -- columns beyond the contract, JSON
);

-- Parts: everything that can be fitted and counted.
create table parts (
    part varchar primary key, -- own identifier
    description varchar not null, -- plain words
    wear_class varchar check (wear_class in ('coil', 'sleeve', 'opto_pair', 'plunger', 'spring', 'switch', 'ring', 'lamp', 'connector', 'fuse', 'capacitor', 'board', 'display', 'moulding', 'bracket', 'fastener', 'cosmetic', 'other')), -- how it wears
    supply varchar check (supply in ('steady', 'scarce', 'ended')), -- how it can be had; default steady
    shelf varchar, -- where it lies
    keep varchar check (keep in ('auto', 'always', 'never')), -- owner's override of the shelf rule; default auto
    unit_cost decimal(18, 4) check (unit_cost >= 0), -- remembered cost per piece, used when nothing was bought or offered
    extra varchar -- columns beyond the contract, JSON
);

-- Aliases. Unlocks: other spellings of a part taken as that part.
create table aliases (
    alias varchar primary key, -- another spelling
    part varchar not null references parts (part), -- the part meant
    extra varchar -- columns beyond the contract, JSON
);

-- Interchange. Unlocks: substitutes; the first may stand in for the second, not the other way round.
create table interchange (
    part varchar not null references parts (part), -- the stand-in
    can_replace varchar not null references parts (part), -- what it stands in for
    condition varchar, -- when
    extra varchar, -- columns beyond the contract, JSON
    primary key (part, can_replace)
);

-- Companions. Unlocks: parts that always come along (a new coil brings a new sleeve).
create table companions (
    trigger_part varchar references parts (part), -- the part that brings another
    trigger_wear_class varchar check (trigger_wear_class in ('coil', 'sleeve', 'opto_pair', 'plunger', 'spring', 'switch', 'ring', 'lamp', 'connector', 'fuse', 'capacitor', 'board', 'display', 'moulding', 'bracket', 'fastener', 'cosmetic', 'other')), -- or every part of this class
    adds_part varchar not null references parts (part), -- what comes along
    share double check (share between 0 and 1), -- how often, 0 to 1; default 1
    per varchar check (per in ('piece', 'assembly', 'machine')), -- counted once per; default piece
    qty_pcs bigint check (qty_pcs > 0), -- pieces each time; default 1
    assembly varchar, -- limits the rule to this assembly
    extra varchar, -- columns beyond the contract, JSON
    unique (trigger_part, trigger_wear_class, adds_part, per, assembly),
    check (trigger_part is not null or trigger_wear_class is not null)
);

-- Machines. Unlocks: family looked up from the machine, and the same machine followed over its jobs.
create table machines (
    machine varchar primary key, -- own identifier
    family varchar not null references families (family), -- generation
    title varchar, -- title
    year integer check (year between 1900 and 2100), -- year built
    serial varchar, -- serial number
    condition_in varchar, -- condition as received
    agreed_value decimal(18, 4) check (agreed_value >= 0), -- amount agreed with its owner
    extra varchar -- columns beyond the contract, JSON
);

-- Jobs: one machine in the shop, once.
create table jobs (
    job varchar primary key, -- own identifier
    family varchar not null references families (family), -- generation of machine
    machine varchar, -- which machine
    scope varchar not null check (scope in ('fix_only', 'refresh', 'thorough')), -- how far the work goes
    status varchar check (status in ('enquiry', 'booked', 'in_progress', 'delivered', 'declined')), -- default from the dates
    booked_on date, -- day it was booked
    planned_start_on date, -- day work should begin
    promised_on date, -- day promised to the customer
    started_on date, -- day work began
    delivered_on date, -- day handed over
    setting varchar check (setting in ('home', 'route')), -- where it is played
    plays bigint check (plays >= 0), -- play counter, games
    plays_quality varchar check (plays_quality in ('read', 'reset_suspected', 'wrapped', 'unknown')), -- how far to trust it
    no_parts_used varchar check (no_parts_used in ('yes', 'no')), -- yes: no job_parts row means none was used
    price_kind varchar check (price_kind in ('estimate', 'fixed')), -- what the quote promised
    quoted_amount decimal(18, 4) check (quoted_amount >= 0), -- quoted price
    quoted_hours double check (quoted_hours >= 0), -- quoted hours
    quoted_parts_amount decimal(18, 4) check (quoted_parts_amount >= 0), -- quoted for parts
    invoiced_amount decimal(18, 4) check (invoiced_amount >= 0), -- invoiced before tax
    warranty_days integer check (warranty_days >= 0), -- days of warranty; default the shop's
    customer_ref varchar, -- nickname or number, left out of exports unless asked
    extra varchar, -- columns beyond the contract, JSON
    check (started_on >= booked_on),
    check (delivered_on >= booked_on),
    check (delivered_on >= started_on)
);

-- Job parts: one row per taking of a part for a job.
create table job_parts (
    row_hash varchar primary key, -- checksum of all its values
    job varchar not null references jobs (job), -- for which job
    part varchar not null references parts (part), -- which part
    qty_pcs bigint not null check (qty_pcs <> 0), -- pieces; negative = back to the shelf
    used_on date, -- day taken
    line bigint, -- any number that tells two equal takings apart
    assembly varchar, -- where it went
    source varchar check (source in ('new', 'salvage', 'made', 'customer')), -- where it came from; default new
    reason varchar check (reason in ('failed', 'policy', 'companion', 'broken_in_work', 'no_cure', 'upgrade', 'callback')), -- why it was taken
    batch varchar, -- supplier's batch
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Vendors. Unlocks: freight, minimum orders and baskets; lead times before receipts tell.
create table vendors (
    vendor varchar primary key, -- own identifier
    name varchar, -- name on orders
    freight_flat decimal(18, 4) check (freight_flat >= 0), -- freight amount per order
    freight_free_over decimal(18, 4) check (freight_free_over >= 0), -- goods amount from which freight is free
    minimum_order decimal(18, 4) check (minimum_order >= 0), -- least goods amount accepted
    order_hours double check (order_hours >= 0), -- own hours to place one order
    lead_time_days double check (lead_time_days >= 0), -- days quoted, used until receipts tell
    extra varchar -- columns beyond the contract, JSON
);

-- Offers. Unlocks: today's prices, packs and price breaks, so that an order can be priced.
create table offers (
    vendor varchar not null references vendors (vendor), -- who offers
    part varchar not null references parts (part), -- what
    vendor_part varchar, -- the vendor's own number, printed on orders
    pack_pcs bigint check (pack_pcs > 0), -- pieces in a pack; default 1
    pack_price decimal(18, 4) not null check (pack_price >= 0), -- amount per pack
    from_packs bigint check (from_packs > 0), -- price holds from so many packs; default 1
    quoted_on date, -- day of the quote
    fit_hours double check (fit_hours >= 0), -- extra fitting hours a reproduction part needs, per piece
    reject_share double check (reject_share between 0 and 1), -- share not fit for use, 0 to 1
    available varchar check (available in ('yes', 'no', 'run')), -- can be had; run = made in runs
    extra varchar, -- columns beyond the contract, JSON
    unique (vendor, part, pack_pcs, from_packs, quoted_on)
);

-- Orders. Unlocks: what is on its way, lead times from receipts, and parts at landed cost.
create table orders (
    order_no varchar primary key, -- own identifier
    vendor varchar not null references vendors (vendor), -- to whom
    ordered_on date not null, -- day sent
    freight decimal(18, 4) check (freight >= 0), -- amount
    duty decimal(18, 4) check (duty >= 0), -- amount
    tax decimal(18, 4) check (tax >= 0), -- amount
    tax_recoverable varchar check (tax_recoverable in ('yes', 'no')), -- yes: tax is not a cost; default no
    discount decimal(18, 4) check (discount >= 0), -- amount taken off the whole order
    extra varchar -- columns beyond the contract, JSON
);

-- Order lines. Unlocks: receipts, prices really paid and open orders.
create table order_lines (
    order_no varchar not null references orders (order_no), -- which order
    part varchar not null references parts (part), -- what
    qty_pcs bigint not null check (qty_pcs > 0), -- pieces ordered
    unit_price decimal(18, 4) not null check (unit_price >= 0), -- amount per piece
    received_on date, -- day received; empty = still on order
    received_pcs bigint check (received_pcs >= 0), -- pieces received
    extra varchar, -- columns beyond the contract, JSON
    primary key (order_no, part)
);

-- Receipts. Unlocks: one order line that came in several parts.
create table receipts (
    row_hash varchar primary key, -- checksum of all its values
    order_no varchar not null references orders (order_no), -- which order
    part varchar not null references parts (part), -- what
    received_on date not null, -- day received
    received_pcs bigint not null check (received_pcs > 0), -- pieces received
    batch varchar, -- supplier's batch
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Counts. Unlocks: what is on the shelf today, and so what to order.
create table counts (
    row_hash varchar primary key, -- checksum of all its values
    part varchar not null references parts (part), -- what
    counted_on date not null, -- day counted
    qty_pcs bigint not null check (qty_pcs >= 0), -- pieces found
    shelf varchar, -- where
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Stock moves. Unlocks: opening stock, harvested, made, sold and written-off pieces.
create table stock_moves (
    row_hash varchar primary key, -- checksum of all its values
    part varchar not null references parts (part), -- what
    moved_on date not null, -- day
    qty_pcs bigint not null check (qty_pcs <> 0), -- pieces; + in, - out
    kind varchar not null check (kind in ('opening', 'harvested', 'made', 'kit_opened', 'found', 'sold', 'written_off', 'returned_to_vendor')), -- why
    unit_cost decimal(18, 4) check (unit_cost >= 0), -- amount per piece
    amount decimal(18, 4), -- amount of a sale or credit
    grade varchar check (grade in ('tested', 'cleaned', 'unknown')), -- of salvage
    owner varchar check (owner in ('shop', 'customer')), -- whose
    note varchar, -- remark
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar, -- columns beyond the contract, JSON
    check (qty_pcs > 0 or kind not in ('opening', 'harvested', 'made', 'found')),
    check (qty_pcs < 0 or kind not in ('sold', 'written_off', 'returned_to_vendor'))
);

-- Assemblies. Unlocks: bench, installed and opening hours, so that later can be priced beside now.
create table assemblies (
    assembly varchar primary key, -- own identifier
    name varchar, -- name shown
    bench_hours double check (bench_hours >= 0), -- hours of work while the machine is apart
    installed_hours double check (installed_hours >= 0), -- hours for the same once it is together
    open_hours double check (open_hours >= 0), -- hours to get it out and apart
    extra varchar -- columns beyond the contract, JSON
);

-- Family assemblies. Unlocks: what a typical machine of a family holds.
create table family_assemblies (
    family varchar not null references families (family), -- generation
    assembly varchar not null references assemblies (assembly), -- which
    count bigint check (count > 0), -- assemblies per machine, pieces
    extra varchar, -- columns beyond the contract, JSON
    primary key (family, assembly)
);

-- Assembly parts. Unlocks: fix-only beside thorough, piece by piece.
create table assembly_parts (
    assembly varchar not null references assemblies (assembly), -- where
    part varchar not null references parts (part), -- what
    family varchar references families (family), -- empty = every family that has the assembly
    qty_pcs bigint not null check (qty_pcs > 0), -- pieces per assembly
    piece_hours double check (piece_hours >= 0), -- bench hours for one piece; default bench_hours shared out
    thorough_action varchar check (thorough_action in ('clean', 'recondition', 'replace', 'make', 'keep')), -- done when thorough
    fix_only_action varchar check (fix_only_action in ('clean', 'recondition', 'replace', 'make', 'keep')), -- done when only fixing
    extra varchar, -- columns beyond the contract, JSON
    unique (assembly, part, family)
);

-- Job hours. Unlocks: hours per job, and what a job earned per hour.
create table job_hours (
    row_hash varchar primary key, -- checksum of all its values
    job varchar not null references jobs (job), -- for which job
    hours double not null check (hours > 0), -- clock hours
    worked_on date, -- day
    line bigint, -- any number that tells two equal rows apart
    stage varchar check (stage in ('intake', 'teardown', 'cleaning', 'bench', 'wiring', 'reassembly', 'test', 'admin', 'callback')), -- part of the work
    assembly varchar, -- on which
    billed_hours double check (billed_hours >= 0), -- hours charged
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Job costs. Unlocks: sublet, freight and supplies in what a job earned.
create table job_costs (
    row_hash varchar primary key, -- checksum of all its values
    job varchar not null references jobs (job), -- for which job
    kind varchar not null check (kind in ('sublet', 'freight', 'supplies', 'discount', 'tax', 'other')), -- what for
    amount decimal(18, 4) not null, -- amount
    paid_on date, -- day paid
    sent_on date, -- sublet work: day sent
    due_on date, -- sublet work: day due
    back_on date, -- sublet work: day back
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Findings. Unlocks: fix-only beside thorough for one job, from what its teardown found.
create table findings (
    job varchar not null references jobs (job), -- which job
    assembly varchar not null, -- where
    part varchar not null references parts (part), -- what
    qty_pcs bigint check (qty_pcs > 0), -- pieces
    condition varchar check (condition in ('good', 'worn', 'failed', 'missing', 'unknown')), -- as found
    action varchar check (action in ('clean', 'recondition', 'replace', 'make', 'keep')), -- decided
    extra varchar, -- columns beyond the contract, JSON
    unique (job, assembly, part, condition)
);

-- Quote lines. Unlocks: quoted to actual, line by line.
create table quote_lines (
    job varchar not null references jobs (job), -- which job
    version bigint not null check (version > 0), -- 1, 2, 3 ...
    option varchar not null check (option in ('fix_only', 'recommended', 'thorough')), -- which offer
    kind varchar not null check (kind in ('part', 'labour', 'sublet', 'supplies', 'freight', 'reserve', 'discount')), -- what for
    assembly varchar, -- where
    part varchar references parts (part), -- what
    qty_pcs bigint, -- pieces
    hours double check (hours >= 0), -- hours
    amount decimal(18, 4) not null, -- amount
    tax_class varchar, -- the owner's own words
    accepted_on date, -- day the customer took this option
    extra varchar, -- columns beyond the contract, JSON
    unique (job, version, option, kind, assembly, part, qty_pcs, hours, amount, tax_class)
);

-- Approvals. Unlocks: who said yes to what, and when.
create table approvals (
    job varchar not null references jobs (job), -- which job
    asked_on date not null, -- day asked
    what varchar not null, -- what was asked
    amount decimal(18, 4) not null, -- amount
    answered_on date, -- day answered
    answer varchar check (answer in ('yes', 'no')), -- answer
    how varchar, -- by which way
    "by" varchar, -- nickname
    extra varchar, -- columns beyond the contract, JSON
    unique (job, asked_on, what),
    check (answered_on >= asked_on)
);

-- Payments. Unlocks: deposits held and balances.
create table payments (
    row_hash varchar primary key, -- checksum of all its values
    job varchar not null references jobs (job), -- which job
    paid_on date not null, -- day
    amount decimal(18, 4) not null, -- amount
    kind varchar check (kind in ('deposit', 'balance', 'refund')), -- what kind
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Callbacks. Unlocks: what came back, and so what fix-only really costs.
create table callbacks (
    row_hash varchar primary key, -- checksum of all its values
    job varchar not null references jobs (job), -- job it came back from
    reported_on date not null, -- day reported
    assembly varchar, -- where
    part varchar references parts (part), -- which part failed, if one did
    part_was varchar check (part_was in ('new', 'kept')), -- fitted by the job or left in place
    cause varchar, -- in words
    hours double check (hours >= 0), -- hours spent
    parts_cost decimal(18, 4) check (parts_cost >= 0), -- amount
    trip_cost decimal(18, 4) check (trip_cost >= 0), -- amount
    charged_amount decimal(18, 4) check (charged_amount >= 0), -- amount charged to the customer
    recorded_in varchar not null check (recorded_in in ('folder', 'notebook')), -- who wrote it
    extra varchar -- columns beyond the contract, JSON
);

-- Photos. Unlocks: links to pictures beside a job.
create table photos (
    job varchar not null references jobs (job), -- which job
    file varchar not null, -- link; nothing is copied
    taken_on date, -- day
    stage varchar, -- part of the work
    assembly varchar, -- of what
    note varchar, -- remark
    extra varchar, -- columns beyond the contract, JSON
    primary key (job, file)
);

-- Wear. Unlocks: your own guess of how long parts last, used until records outweigh it.
create table wear (
    wear_class varchar primary key check (wear_class in ('coil', 'sleeve', 'opto_pair', 'plunger', 'spring', 'switch', 'ring', 'lamp', 'connector', 'fuse', 'capacitor', 'board', 'display', 'moulding', 'bracket', 'fastener', 'cosmetic', 'other')), -- class of part
    median_plays_new double check (median_plays_new > 0), -- games until half of new pieces fail
    median_plays_kept double check (median_plays_kept > 0), -- games until half of kept pieces fail
    median_months_new double check (median_months_new > 0), -- months, where there is no play counter
    median_months_kept double check (median_months_kept > 0), -- months, where there is no play counter
    shape double check (shape > 0), -- Weibull shape, no unit; above 1 = wears out
    weight_jobs double check (weight_jobs > 0), -- weight of the guess, in jobs
    extra varchar -- columns beyond the contract, JSON
);

insert into shop_keys (key, kind, default_value, meaning) values
    ('name', 'text', 'Your shop', 'name of the shop'),
    ('currency', 'text', 'USD', 'the one currency of all amounts'),
    ('labour_rate', 'amount', '60', 'charged per hour'),
    ('labour_cost', 'amount', '30', 'own cost per hour'),
    ('overhead_per_hour', 'amount', '10', 'overhead per hour worked'),
    ('bench_hours_per_week', 'hours', '30', 'hours at the bench per week'),
    ('bays', 'number', '2', 'machines that can stand open at once'),
    ('holding_rate_share', 'share', '0.20', 'cost of holding stock, share of its value per year'),
    ('bay_cost_per_day', 'amount', '10', 'what a stalled machine costs a day'),
    ('callback_trip_cost', 'amount', '50', 'amount per call-back trip'),
    ('callback_goodwill_cost', 'amount', '50', 'amount of goodwill lost per call-back'),
    ('warranty_days', 'days', '90', 'days of warranty'),
    ('callback_watch_days', 'days', null, 'days after delivery that call-backs are noted (default warranty_days)'),
    ('target_margin_share', 'share', '0.30', 'margin aimed at, share of price'),
    ('part_markup_share', 'share', '0.30', 'added to the cost of parts, share of cost'),
    ('cash_limit_amount', 'amount', null, 'most cash to tie up on the shelf (empty = no limit)'),
    ('plays_per_month_home', 'number', '60', 'games per month at home'),
    ('plays_per_month_route', 'number', '900', 'games per month on route'),
    ('today', 'date', null, 'the day the tables speak of (default the last date recorded)');
insert into store_version values (3, 'Sparebench 0.2.0');
