-- Layout 5. The disks themselves: the register, looks, cleanings of drive heads, rounds, readbacks, joins and deals. Each
-- act is an entry of one journal, whose numbers are the only order there is, and is never changed afterwards; one that was
-- wrong is withdrawn with a reason and stays.

-- What the register says now. A disk that was only ever named, by a cycle or a drying, has registered = 0.
alter table disk add column registered integer not null default 0;
alter table disk add column media_mm integer;                 -- nominal size; null when not said
alter table disk add column format text not null default '';  -- geometry as text, '' when not said
alter table disk add column note text not null default '';
alter table disk add column registered_wall text;
alter table disk add column retired integer not null default 0;
alter table disk add column retired_wall text;
alter table disk add column retired_why text not null default '';
create index disk_state on disk (registered, retired, id);

create table journal (
    number         integer primary key,       -- counts up over everything below
    kind           text not null,             -- register, look, heads, round, readback, join, deal
    wall           text,
    by_whom        text not null,
    after_cycle    integer not null,          -- the last cycle that had begun; 0 for none
    withdrawn      integer not null default 0,
    withdrawn_why  text not null default '',
    withdrawn_by   text not null default '',
    withdrawn_wall text
);

-- Every change of the register, so that what it said before is kept.
create table register_change (
    number   integer primary key references journal (number),
    disk     text not null references disk (id),
    what     text not null,                   -- registered, changed, retired, returned
    media_mm integer,
    format   text not null,
    note     text not null,
    why      text not null
);
create index register_change_disk on register_change (disk, number);

create table look (
    number   integer primary key references journal (number),
    disk     text not null references disk (id),
    findings text not null,
    verdict  text not null,
    reason   text not null
);
create index look_disk on look (disk, number);

create table head_cleaning (
    number integer primary key references journal (number),
    drive  text not null
);
create index head_cleaning_drive on head_cleaning (drive, number);

create table deal (
    number    integer primary key references journal (number),
    name      text not null,
    seed      text not null,                  -- decimal, 0 to 2^64 - 1
    imbalance double precision not null,      -- sectors
    bound     double precision not null,      -- sectors: no deal has a smaller imbalance
    optimal   integer not null                -- 1: proved
);

create index deal_name on deal (name);

create table deal_method (
    deal   integer not null references deal (number),
    place  integer not null,                  -- from 0, in the order in which they were given
    method text not null,
    mean   double precision,                  -- missing sectors a disk; null for a method without disks
    spread double precision,                  -- their standard deviation; null below two disks
    primary key (deal, place)
);

create table deal_disk (
    deal    integer not null references deal (number),
    place   integer not null,                 -- from 0, in the order in which they were given
    disk    text not null references disk (id),
    method  text not null,
    missing integer not null,                 -- sectors, when it was dealt
    block   integer not null,                 -- 0: placed by a constraint, not dealt
    primary key (deal, place)
);
create index deal_disk_disk on deal_disk (disk, deal);

create table round (
    number integer primary key references journal (number),
    disk   text not null references disk (id),
    round  integer not null,                  -- from 1
    method text not null,                     -- the recipe of its cycle, or by hand
    cycle  integer references cycle (number), -- null: by hand
    deal   integer references deal (number)   -- null: none
);
create index round_disk on round (disk, round);
create index round_deal on round (deal, disk);

-- Tables as they were read, each kept once.
create table readback_table (
    sha256     text primary key,              -- of the text, hexadecimal
    text_bytes integer not null,
    body_gzip  blob not null,                 -- the text, compressed
    states     blob                           -- state of every sector, in a form of the program's; null when not given
);

create table readback (
    number        integer primary key references journal (number),
    disk          text not null references disk (id),
    round         integer not null,           -- 0: as found
    drive         text not null,              -- '' when there is only one
    format        text not null,
    good          integer not null,           -- sectors
    bad           integer not null,
    missing       integer not null,
    untried       integer not null,
    table_sha256  text not null references readback_table (sha256),
    image_sha256  text not null,              -- '' without an image
    image_bytes   integer,
    image_path    text not null,
    source        text not null,              -- name of the file that the table came from
    heads_cleaned integer not null,           -- 0: not since the readback before on this drive
    drive_before  integer references readback (number), -- that readback; null for the first
    against       integer references readback (number), -- what regained and newly_lost are counted against
    regained      integer,                    -- sectors; null when it is not known which came back
    newly_lost    integer
);
create index readback_disk on readback (disk, round, number);
create index readback_drive on readback (drive, number);
create index readback_table_sum on readback (table_sha256);
create index readback_image_sum on readback (image_sha256);

create table joined (
    number            integer primary key references journal (number),
    disk              text not null references disk (id),
    image_sha256      text not null,
    image_bytes       integer not null,
    image_path        text not null,
    table_sha256      text not null,
    provenance_sha256 text not null,
    good              integer not null,       -- sectors chosen
    unread            integer not null,       -- sectors that no reading had
    disputed          integer not null        -- sectors whose copies differ, so that none was chosen
);
create index joined_disk on joined (disk, number);

create table joined_input (
    joined       integer not null references joined (number),
    seq          integer not null,
    readback     integer not null references readback (number),
    table_sha256 text not null,
    image_sha256 text not null,               -- '' without an image
    primary key (joined, seq)
);
create index joined_input_readback on joined_input (readback);
