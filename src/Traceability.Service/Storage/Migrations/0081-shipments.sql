-- Incompatible: an older service would leave the rows of shipment as they were when it judges a unit again.
-- To whom units left: one row for each time that a unit left.
create table shipment (
    unit            text        not null,
    row_id          bigint      not null,
    item            text        not null,
    consignee       text        not null,
    order_reference text,
    shipment        text,                           -- the shipment of several units, where the service decided on it
    record          uuid        not null,
    at              timestamptz not null,
    returned_at     timestamptz,                    -- when it came back after that
    primary key (unit, row_id)
);
create index shipment_at on shipment (at, unit, row_id);
create index shipment_consignee on shipment (consignee, at, unit, row_id);
create index shipment_order on shipment (order_reference, at, unit, row_id) where order_reference is not null;
create index shipment_shipment on shipment (shipment) where shipment is not null;

-- The units that have left before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select distinct substr(stream_id, 6), now() from events.mt_events where type = 'unit_shipped' on conflict (unit) do nothing;
