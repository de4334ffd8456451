CREATE TABLE imported_ledger (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    ledger TEXT NOT NULL DEFAULT '' CHECK (length(ledger) BETWEEN 1 AND 200),
    head TEXT NOT NULL DEFAULT '' CHECK (length(head) = 64 AND head NOT GLOB '*[^0-9a-f]*'),
    entries INTEGER NOT NULL CHECK (entries >= 1),
    sum TEXT NOT NULL DEFAULT '' CHECK (length(sum) = 64 AND sum NOT GLOB '*[^0-9a-f]*'),
    prefix TEXT NOT NULL DEFAULT '' CHECK (length(prefix) <= 24),
    day TEXT NOT NULL DEFAULT '' CHECK (date(day) IS day AND day BETWEEN '1900-01-01' AND '2199-12-31')
) STRICT;

CREATE TABLE came_from (
    id INTEGER PRIMARY KEY CHECK (id >= 1),
    imported_id INTEGER NOT NULL REFERENCES imported_ledger (id) ON DELETE NO ACTION DEFERRABLE INITIALLY DEFERRED,
    entity TEXT NOT NULL DEFAULT '' CHECK (length(entity) BETWEEN 1 AND 40),
    entity_id INTEGER NOT NULL CHECK (entity_id >= 1),
    number INTEGER NOT NULL CHECK (number >= 1),
    called TEXT NOT NULL DEFAULT '' CHECK (length(called) <= 4000)
) STRICT;
CREATE INDEX came_from_by_imported ON came_from (imported_id);
CREATE INDEX came_from_by_entity ON came_from (entity, entity_id);
