CREATE TABLE meta (
    key TEXT NOT NULL PRIMARY KEY CHECK (length(key) BETWEEN 1 AND 40),
    value TEXT NOT NULL DEFAULT '' CHECK (length(value) <= 200)
) STRICT, WITHOUT ROWID;

CREATE TABLE counter (
    name TEXT NOT NULL PRIMARY KEY CHECK (length(name) BETWEEN 1 AND 100),
    next INTEGER NOT NULL CHECK (next >= 1)
) STRICT, WITHOUT ROWID;

CREATE TABLE change (
    seq INTEGER PRIMARY KEY CHECK (seq >= 1),
    txn INTEGER NOT NULL CHECK (txn >= 1),
    at_utc TEXT NOT NULL DEFAULT '' CHECK (length(at_utc) <= 40),
    utc_offset TEXT NOT NULL DEFAULT '' CHECK (length(utc_offset) <= 10),
    command TEXT NOT NULL DEFAULT '',
    kind TEXT NOT NULL DEFAULT '' CHECK (length(kind) BETWEEN 1 AND 40),
    entity TEXT NOT NULL DEFAULT '' CHECK (length(entity) BETWEEN 1 AND 40),
    entity_id INTEGER NOT NULL CHECK (entity_id >= 0),
    "before" TEXT,
    "after" TEXT,
    hash TEXT NOT NULL DEFAULT '' CHECK (length(hash) = 64 AND hash NOT GLOB '*[^0-9a-f]*'),
    CHECK ("before" IS NOT NULL OR "after" IS NOT NULL)
) STRICT;

CREATE TRIGGER change_is_not_altered BEFORE UPDATE ON change
BEGIN
    SELECT RAISE(ABORT, 'history is never altered');
END;

CREATE TRIGGER change_is_not_deleted BEFORE DELETE ON change
BEGIN
    SELECT RAISE(ABORT, 'history is never shortened');
END;

CREATE TABLE setting (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    key TEXT NOT NULL DEFAULT '' UNIQUE CHECK (length(key) BETWEEN 1 AND 100),
    value TEXT NOT NULL DEFAULT '' CHECK (length(value) <= 4000)
) STRICT;

CREATE TABLE code (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    key TEXT NOT NULL DEFAULT '' UNIQUE CHECK (length(key) BETWEEN 1 AND 96),
    typed TEXT NOT NULL DEFAULT '' CHECK (length(typed) BETWEEN 1 AND 24),
    thing TEXT NOT NULL DEFAULT '' CHECK (thing IN ('plant', 'cross', 'batch', 'trait', 'lot')),
    thing_id INTEGER NOT NULL CHECK (thing_id >= 1)
) STRICT;

CREATE TABLE locus (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    symbol TEXT NOT NULL DEFAULT '' UNIQUE CHECK (length(symbol) BETWEEN 1 AND 100),
    chromosome TEXT CHECK (length(chromosome) <= 100),
    at_cm TEXT CHECK (length(at_cm) <= 100)
) STRICT;

CREATE TABLE allele (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    locus_id INTEGER NOT NULL REFERENCES locus (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    symbol TEXT NOT NULL DEFAULT '' CHECK (length(symbol) BETWEEN 1 AND 100),
    ord INTEGER NOT NULL CHECK (ord >= 0),
    share TEXT CHECK (length(share) <= 100),
    UNIQUE (locus_id, symbol)
) STRICT;

CREATE TABLE recombination (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    locus_a INTEGER NOT NULL REFERENCES locus (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    locus_b INTEGER NOT NULL REFERENCES locus (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    r TEXT NOT NULL DEFAULT '' CHECK (length(r) BETWEEN 1 AND 100),
    CHECK (locus_a < locus_b),
    UNIQUE (locus_a, locus_b)
) STRICT;

CREATE TABLE trait (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    name TEXT NOT NULL DEFAULT '' CHECK (length(name) <= 4000),
    organ TEXT NOT NULL DEFAULT '' CHECK (length(organ) <= 4000),
    stage TEXT NOT NULL DEFAULT '' CHECK (length(stage) <= 4000),
    misread TEXT NOT NULL DEFAULT '' CHECK (length(misread) <= 100),
    switched_on INTEGER NOT NULL CHECK (switched_on IN (0, 1)),
    built_in INTEGER NOT NULL CHECK (built_in IN (0, 1)),
    note TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 4000)
) STRICT;

CREATE TABLE trait_class (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    trait_id INTEGER NOT NULL REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    ord INTEGER NOT NULL CHECK (ord >= 0),
    name TEXT NOT NULL DEFAULT '' CHECK (length(name) BETWEEN 1 AND 100),
    after_class TEXT CHECK (length(after_class) BETWEEN 1 AND 100),
    misread TEXT CHECK (length(misread) <= 100),
    UNIQUE (trait_id, ord),
    UNIQUE (trait_id, name)
) STRICT;

CREATE TABLE trait_model (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    trait_id INTEGER NOT NULL REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    name TEXT NOT NULL DEFAULT '' CHECK (length(name) <= 4000),
    in_use INTEGER NOT NULL CHECK (in_use IN (0, 1)),
    source TEXT NOT NULL DEFAULT '' CHECK (length(source) <= 4000),
    standing TEXT NOT NULL DEFAULT '' CHECK (length(standing) <= 4000)
) STRICT;

CREATE TABLE trait_rule (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    model_id INTEGER NOT NULL REFERENCES trait_model (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    ord INTEGER NOT NULL CHECK (ord >= 0),
    pattern TEXT NOT NULL DEFAULT '' CHECK (length(pattern) BETWEEN 1 AND 4000),
    class TEXT NOT NULL DEFAULT '' CHECK (length(class) BETWEEN 1 AND 100)
) STRICT;

CREATE TABLE onset (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    trait_id INTEGER NOT NULL REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    median_days TEXT NOT NULL DEFAULT '' CHECK (length(median_days) <= 100),
    spread TEXT NOT NULL DEFAULT '' CHECK (length(spread) <= 100),
    ceiling TEXT NOT NULL DEFAULT '' CHECK (length(ceiling) <= 100),
    standing TEXT NOT NULL DEFAULT '' CHECK (length(standing) <= 4000)
) STRICT;

CREATE TABLE plant (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    kind TEXT NOT NULL DEFAULT '' CHECK (kind IN ('line', 'packet', 'plant', 'seedling', 'ancestor')),
    name TEXT NOT NULL DEFAULT '' CHECK (length(name) <= 100),
    species TEXT NOT NULL DEFAULT '' CHECK (length(species) <= 100),
    cytoplasm TEXT NOT NULL DEFAULT '' CHECK (cytoplasm IN ('normal', 'sterile', 'unknown')),
    batch_id INTEGER REFERENCES batch (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    cell INTEGER CHECK (cell BETWEEN 1 AND 10000),
    part TEXT NOT NULL DEFAULT '' CHECK (length(part) <= 2 AND part NOT GLOB '*[^a-z]*'),
    mother_id INTEGER REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    father_id INTEGER REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    entered TEXT NOT NULL DEFAULT '' CHECK (date(entered) IS entered AND entered BETWEEN '1900-01-01' AND '2199-12-31'),
    CHECK ((kind = 'seedling') = (batch_id IS NOT NULL)),
    CHECK (cell IS NULL OR batch_id IS NOT NULL)
) STRICT;
CREATE UNIQUE INDEX plant_by_spot ON plant (batch_id, cell, part);
CREATE INDEX plant_by_mother ON plant (mother_id);
CREATE INDEX plant_by_father ON plant (father_id);

CREATE TABLE statement (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    plant_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    genotype TEXT NOT NULL DEFAULT '' CHECK (length(genotype) BETWEEN 1 AND 4000),
    proven INTEGER NOT NULL CHECK (proven IN (0, 1)),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;
CREATE INDEX statement_by_plant ON statement (plant_id);

CREATE TABLE in_flower (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    plant_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    from_day TEXT NOT NULL DEFAULT '' CHECK (date(from_day) IS from_day AND from_day BETWEEN '1900-01-01' AND '2199-12-31'),
    until_day TEXT CHECK (date(until_day) IS until_day AND until_day BETWEEN from_day AND '2199-12-31')
) STRICT;
CREATE INDEX in_flower_by_plant ON in_flower (plant_id);

CREATE TABLE "cross" (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    mother_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    father_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED
) STRICT;
CREATE INDEX cross_by_mother ON "cross" (mother_id);
CREATE INDEX cross_by_father ON "cross" (father_id);

CREATE TABLE pollination (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    cross_id INTEGER NOT NULL REFERENCES "cross" (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    day TEXT CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    flowers INTEGER CHECK (flowers >= 0),
    tool TEXT NOT NULL DEFAULT '' CHECK (length(tool) <= 4000),
    wiped INTEGER NOT NULL CHECK (wiped IN (0, 1)),
    emasculated INTEGER NOT NULL CHECK (emasculated IN (0, 1)),
    covered INTEGER NOT NULL CHECK (covered IN (0, 1)),
    pods INTEGER CHECK (pods >= 0),
    dropped INTEGER CHECK (dropped >= 0)
) STRICT;
CREATE INDEX pollination_by_cross ON pollination (cross_id);

CREATE TABLE lot (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    cross_id INTEGER REFERENCES "cross" (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    plant_id INTEGER REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    number INTEGER NOT NULL CHECK (number >= 1),
    pods INTEGER CHECK (pods >= 0),
    seeds INTEGER CHECK (seeds >= 0),
    about INTEGER NOT NULL CHECK (about IN (0, 1)),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    pollinated TEXT CHECK (date(pollinated) IS pollinated AND pollinated BETWEEN '1900-01-01' AND '2199-12-31'),
    kept TEXT NOT NULL DEFAULT '' CHECK (length(kept) <= 4000),
    label TEXT NOT NULL DEFAULT '' CHECK (length(label) <= 4000),
    giver TEXT NOT NULL DEFAULT '' CHECK (length(giver) <= 4000),
    claim TEXT NOT NULL DEFAULT '' CHECK (length(claim) <= 4000),
    CHECK ((cross_id IS NULL) <> (plant_id IS NULL))
) STRICT;
CREATE INDEX lot_by_cross ON lot (cross_id);
CREATE INDEX lot_by_plant ON lot (plant_id);

CREATE TABLE batch (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    cross_id INTEGER REFERENCES "cross" (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    plant_id INTEGER REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    seeds INTEGER NOT NULL CHECK (seeds >= 0),
    cells INTEGER NOT NULL CHECK (cells BETWEEN 1 AND 10000),
    place TEXT NOT NULL DEFAULT '' CHECK (length(place) <= 4000),
    medium TEXT NOT NULL DEFAULT '' CHECK (length(medium) <= 4000),
    light TEXT NOT NULL DEFAULT '' CHECK (length(light) <= 4000),
    CHECK ((cross_id IS NULL) <> (plant_id IS NULL))
) STRICT;
CREATE INDEX batch_by_cross ON batch (cross_id);
CREATE INDEX batch_by_plant ON batch (plant_id);

CREATE TABLE batch_seed (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    lot_id INTEGER NOT NULL REFERENCES lot (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    seeds INTEGER NOT NULL CHECK (seeds >= 0)
) STRICT;
CREATE INDEX batch_seed_by_batch ON batch_seed (batch_id);
CREATE INDEX batch_seed_by_lot ON batch_seed (lot_id);

CREATE TABLE emergence (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    cell INTEGER CHECK (cell BETWEEN 1 AND 10000),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    up INTEGER NOT NULL CHECK (up >= 0)
) STRICT;
CREATE INDEX emergence_by_batch ON emergence (batch_id);

CREATE TABLE reading (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    plant_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    trait_id INTEGER REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    class_id INTEGER REFERENCES trait_class (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    sureness TEXT NOT NULL DEFAULT '' CHECK (sureness IN ('firm', 'doubtful', 'early', 'dim')),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    leaves INTEGER CHECK (leaves >= 0),
    CHECK (class_id IS NULL OR trait_id IS NOT NULL)
) STRICT;
CREATE INDEX reading_by_plant ON reading (plant_id);

CREATE TABLE tally (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    cell INTEGER CHECK (cell BETWEEN 1 AND 10000),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;
CREATE INDEX tally_by_batch ON tally (batch_id);

CREATE TABLE tally_look (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    tally_id INTEGER NOT NULL REFERENCES tally (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    ord INTEGER NOT NULL CHECK (ord >= 0),
    count INTEGER NOT NULL CHECK (count >= 0)
) STRICT;
CREATE INDEX tally_look_by_tally ON tally_look (tally_id);

CREATE TABLE tally_class (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    look_id INTEGER NOT NULL REFERENCES tally_look (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    trait_id INTEGER REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    class_id INTEGER REFERENCES trait_class (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    sureness TEXT NOT NULL DEFAULT '' CHECK (sureness IN ('firm', 'doubtful', 'early', 'dim')),
    CHECK (class_id IS NULL OR trait_id IS NOT NULL)
) STRICT;
CREATE INDEX tally_class_by_look ON tally_class (look_id);

CREATE TABLE fate (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    plant_id INTEGER REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    cell INTEGER CHECK (cell BETWEEN 1 AND 10000),
    count INTEGER NOT NULL CHECK (count >= 0),
    kind TEXT NOT NULL DEFAULT '' CHECK (kind IN ('culled', 'thinned', 'died', 'potted-up')),
    blind INTEGER NOT NULL CHECK (blind IN (0, 1)),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    why TEXT NOT NULL DEFAULT '' CHECK (length(why) <= 4000)
) STRICT;
CREATE INDEX fate_by_batch ON fate (batch_id);
CREATE INDEX fate_by_plant ON fate (plant_id);

CREATE TABLE fate_class (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    fate_id INTEGER NOT NULL REFERENCES fate (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    trait_id INTEGER NOT NULL REFERENCES trait (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    class_id INTEGER NOT NULL REFERENCES trait_class (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED
) STRICT;
CREATE INDEX fate_class_by_fate ON fate_class (fate_id);

CREATE TABLE care (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    kind TEXT NOT NULL DEFAULT '' CHECK (length(kind) BETWEEN 1 AND 100),
    product TEXT NOT NULL DEFAULT '' CHECK (length(product) <= 4000),
    dose TEXT NOT NULL DEFAULT '' CHECK (length(dose) <= 4000),
    interval_days INTEGER CHECK (interval_days >= 0),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31'),
    note TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 4000)
) STRICT;

CREATE TABLE care_target (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    care_id INTEGER NOT NULL REFERENCES care (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    thing TEXT NOT NULL DEFAULT '' CHECK (thing IN ('plant', 'cross', 'batch', 'trait', 'lot')),
    thing_id INTEGER NOT NULL CHECK (thing_id >= 1)
) STRICT;
CREATE INDEX care_target_by_care ON care_target (care_id);

CREATE TABLE measure (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    plant_id INTEGER NOT NULL REFERENCES plant (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    name TEXT NOT NULL DEFAULT '' CHECK (length(name) BETWEEN 1 AND 100),
    number TEXT NOT NULL DEFAULT '' CHECK (length(number) BETWEEN 1 AND 100),
    unit TEXT NOT NULL DEFAULT '' CHECK (length(unit) <= 100),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;
CREATE INDEX measure_by_plant ON measure (plant_id);

CREATE TABLE remark (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    thing TEXT NOT NULL DEFAULT '' CHECK (thing IN ('plant', 'cross', 'batch', 'trait', 'lot')),
    thing_id INTEGER NOT NULL CHECK (thing_id >= 1),
    text TEXT NOT NULL DEFAULT '' CHECK (length(text) BETWEEN 1 AND 4000),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;

CREATE TABLE photo (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    thing TEXT NOT NULL DEFAULT '' CHECK (thing IN ('plant', 'cross', 'batch', 'trait', 'lot')),
    thing_id INTEGER NOT NULL CHECK (thing_id >= 1),
    path TEXT NOT NULL DEFAULT '' CHECK (length(path) BETWEEN 1 AND 4096),
    sha256 TEXT NOT NULL DEFAULT '' CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;
