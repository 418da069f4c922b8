-- Incompatible: an older service can't read the new facts about lots, and would not note which lots name which.
-- How much a unit used of a lot, as entered: the number, a space, the UCUM code. Rows from before hold none until their units are
-- judged again (a rebuild judges all).
alter table material_usage add column quantity text;

-- Which lots name what: a lot that they were made of ('source', as item/lot), or a supplier's lot as marked ('supplier-lot'). A row
-- is only where to look: it stays when the fact that it came from is corrected, and what counts is read from the lot's own facts.
create table lot_naming (
    kind text not null,
    name text not null,
    lot  text not null,                         -- item/lot
    primary key (kind, name, lot)
);

insert into lot_naming (kind, name, lot)
select distinct 'supplier-lot', n.name, substr(n.stream_id, length('lot/') + 1)
from (
    select e.stream_id, coalesce(e.data ->> 'supplierLot', e.data -> 'replacement' ->> 'supplierLot') as name
    from reference_stream r join events.mt_events e on e.stream_id = r.stream where r.kind = 'lot') n
where n.name is not null;
