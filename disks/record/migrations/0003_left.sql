-- Layout 3. What was expected while a disk dried, beside what was read; and what a liner held where the bench weighed it.

alter table sample add column left_min double precision;      -- until dry: median, null when nothing was expected
alter table sample add column left_low_min double precision;  -- of its 80 % interval
alter table sample add column left_high_min double precision;
alter table drying add column kept_g double precision;        -- liquid in the liner when its drying began; null: not weighed
