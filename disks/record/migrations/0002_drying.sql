-- Layout 2. Dryings that a person logged, and what was learned of each bench from all logged dryings. Nothing is ever
-- overwritten: every fit is a new row, and the newest of a bench counts.

create table drying_by_hand (
    number          integer primary key,      -- counts up
    logged_wall     text,                     -- when it was written down
    bench           text not null,
    bench_sha256    text not null references file (sha256),
    simulated       integer not null,         -- 1: the bench file is of a simulated bench
    rack            integer not null,         -- 1: dried on a rack, not in the bench's air
    disk            text references disk (id),
    liquid          text not null,
    started_wall    text,                     -- null when only the length is known
    ended_wall      text,
    time_min        double precision not null,
    what_it_says    text not null,            -- exact, at-least, at-most: what time_min says of the true time
    evidence        text not null,            -- weighed, surface, air, drag, timed
    weight_before_g double precision,         -- of the wet disk
    weight_after_g  double precision,
    air_c           double precision,         -- of the room; null when nobody looked
    air_pct         double precision,
    warm_c          double precision          -- of the air once warmed; null when unwarmed
);
create index drying_by_hand_bench on drying_by_hand (bench, number);

create table belief (
    number      integer primary key,          -- counts up
    bench       text not null,
    simulated   integer not null,
    fitted_wall text,
    program     text not null,
    jitter      double precision not null,    -- standard deviation of the logarithm of one drying's time
    used_logs   integer not null,
    out_logs    integer not null              -- outliers
);
create index belief_bench on belief (bench, simulated, number);

create table belief_figure (
    belief   integer not null references belief (number),
    place    integer not null,                -- 0: the exposure, a factor; from 1: what the liner keeps of a liquid
    liquid   text not null,                   -- '' for the exposure
    log_mean double precision not null,       -- natural logarithm of the factor, or of cubic metres
    primary key (belief, place)
);

create table belief_covariance (
    belief integer not null references belief (number),
    place  integer not null,
    other  integer not null,
    value  double precision not null,         -- of the two logarithms
    primary key (belief, place, other)
);
