-- Compatible: an older service runs on; it leaves the counts as they are.
-- How many finished units carry each lot, counted in the background from material_usage and installation. Only a cache: it may be
-- emptied at any time (with dispersion_count.state set to null) and is counted anew.
create table lot_dispersion (
    item       text        not null,
    lot        text        not null,
    units      integer     not null,            -- whose own record names the lot
    finished   integer     not null,            -- that carry it and are inside no other unit
    shipped    integer     not null,
    shipments  integer     not null,            -- consignees and days (UTC)
    consignees integer     not null,
    used_from  timestamptz not null,
    used_to    timestamptz not null,
    primary key (item, lot)
);
create index lot_dispersion_widest on lot_dispersion (finished desc, item collate "C", lot collate "C");
create index lot_dispersion_item on lot_dispersion (item, finished desc, lot collate "C");

create table item_dispersion (
    item      text   primary key,
    lots      bigint not null,
    finished  bigint not null,
    links     bigint not null,
    lots_most bigint not null
);

create table dispersion_count (
    one        boolean primary key default true check (one),
    counted_at timestamptz,
    state      text                             -- what was there when it was counted; null: count anew
);
insert into dispersion_count default values;
