-- Layout 1. Plain SQL only: truth values are 0 and 1, wall times are text in RFC 3339 (UTC, milliseconds), every
-- measured column ends in its unit. Nothing is ever deleted.

create table disk (
    id           text primary key,            -- as the person labels it
    created_wall text
);

-- What a person must be told and acknowledge before the next cycle.
create table attention (
    id          integer primary key,
    raised_wall text,
    said        text not null,
    acked_by    text,
    acked_wall  text
);

-- Recipe and bench files as they were read, each kept once. They are not in the cycle's row, which is written again
-- every second.
create table file (
    sha256 text primary key,                  -- of body, hexadecimal
    body   text not null
);

create table cycle (
    number         integer primary key,       -- counts up; the only order of cycles there is
    disk           text references disk (id),
    bench          text not null,
    bench_sha256   text not null references file (sha256),
    simulated      integer not null,
    recipe         text not null,
    recipe_title   text not null,
    recipe_sha256  text not null references file (sha256),
    liquid         text not null,             -- '' when nothing wets
    rinse          text not null,
    flammable      text not null,             -- the flammable liquid used, '' for none
    program        text not null,
    boot_id        text not null,
    started_wall   text,
    started_mono_s double precision not null, -- monotonic clock of that boot
    clock_set      integer not null,          -- 0: started_wall is not to be trusted
    clock_back     integer not null,          -- 1: started before an earlier cycle's wall time
    clock_at_s     double precision,          -- when the clock was set during the cycle
    clock_wall     text,                      -- and what it then read
    continues      integer references cycle (number),
    -- how far it got, kept up with every write
    state          text not null,
    stage          integer not null,          -- last one begun, -1 before the first
    last_at_s      double precision not null,
    dosed_ml       double precision not null,
    last_seq       integer not null,
    lost_entries   integer not null,
    -- how it ended
    ended          integer not null default 0,
    reason         text not null default '',
    ended_wall     text,
    duration_s     double precision,          -- monotonic
    liquid_ml      double precision,
    pad_front_kpa  double precision,
    pad_back_kpa   double precision,
    drying_min     double precision,
    drying_evidence text not null default '',
    -- how it was interrupted and what a person chose
    cut_short      integer not null default 0,
    choice         text not null default '',
    chosen_by      text not null default '',
    chosen_wall    text
);
create index cycle_bench on cycle (bench, number);
create index cycle_disk on cycle (disk, number);

create table stage (
    cycle        integer not null references cycle (number),
    stage        integer not null,            -- counts from 0
    work         text not null,               -- wet, scrub, rinse, spin-out, soak, dry
    planned_s    double precision,
    at_most_s    double precision,
    begun_s      double precision,            -- since the cycle's start
    actual_s     double precision,            -- its own time, holds not counted
    ending       text not null default '',
    primary key (cycle, stage)
);

create table event (
    cycle    integer not null references cycle (number),
    seq      integer not null,
    at_s     double precision not null,
    wall     text,
    kind     text not null,
    id       text not null,
    stage    integer not null,                -- -1: none
    state    text not null,
    response text not null,
    said     text not null,
    value    double precision,
    primary key (cycle, seq)
);

-- One row a sample; a reading that was not good is null, never a number in its place.
create table sample (
    cycle         integer not null references cycle (number),
    seq           integer not null,
    at_s          double precision not null,
    stage         integer not null,
    dosed_ml      double precision,
    pad_front_kpa double precision,
    pad_back_kpa  double precision,
    pads_rpm      double precision,
    hub_rpm       double precision,
    fan_rpm       double precision,
    air_in_c      double precision,
    air_in_pct    double precision,
    air_c         double precision,
    air_out_c     double precision,
    air_out_pct   double precision,
    surface_c     double precision,
    vapour_pct    double precision,           -- of the lower flammable limit
    weight_g      double precision,
    pump_pct      double precision,
    rinse_pct     double precision,
    fan_pct       double precision,
    heater_pct    double precision,
    primary key (cycle, seq)
);

create table drying (
    cycle    integer not null references cycle (number),
    seq      integer not null,
    stage    integer not null,
    liquid   text not null,
    time_min double precision not null,
    evidence text not null,
    dry      integer not null,                -- 0: ended before the evidence was complete
    air_c    double precision,
    air_pct  double precision,
    primary key (cycle, seq)
);
create index drying_liquid on drying (liquid);

-- New pads and a fresh bath. after_cycle orders it among the cycles without a clock.
create table changeover (
    id          integer primary key,
    bench       text not null,
    liquid      text not null,
    flammable   integer not null,
    after_cycle integer not null,
    by_whom     text not null,
    wall        text
);
create index changeover_bench on changeover (bench, id);
