-- Fails the transaction unless a condition holds: what a group of facts was planned on must still be so when it is stored.
-- Null does not hold.
create function require(holds boolean, what text) returns void language plpgsql as $$
begin
  if holds is not true then
    raise exception using errcode = 'TR001', message = what;
  end if;
end
$$;
