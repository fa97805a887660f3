-- Layout 4. What was measured on a bench itself: calibrations of its cells and pumps, tares, tests of its outputs and
-- inputs, and when pads and their covers were changed. Nothing is ever overwritten: each is a new row, and the newest one
-- that was accepted counts.

create table cell_calibration (
    number            integer primary key,      -- counts up
    bench             text not null,
    simulated         integer not null,
    part              text not null,            -- pad-front, pad-back or weight
    made_wall         text,
    program           text not null,
    accepted          integer not null,         -- 0: refused, and the one before it stays
    said              text not null,            -- why refused, or what to know of it
    zero_counts       double precision,         -- null when refused
    gain_per_n        double precision,         -- counts for each newton
    zero_se_counts    double precision,         -- standard uncertainties, and their covariance
    gain_se_per_n     double precision,
    zero_gain_cov     double precision,
    residual_counts   double precision,         -- standard deviation of the points around the line
    linearity         double precision,         -- largest departure from the line, of the span
    hysteresis        double precision,         -- largest difference between up and down, of the span
    repeatability     double precision,         -- of one point measured again, of the span
    span_n            double precision          -- largest force that was put on
);
create index cell_calibration_bench on cell_calibration (bench, simulated, part, number);

create table cell_point (
    calibration integer not null references cell_calibration (number),
    seq         integer not null,
    mass_g      double precision not null,
    counts      double precision not null,      -- mean
    sd_counts   double precision,               -- of one reading
    readings    integer not null,
    rising      integer not null,               -- 1: more was being put on
    primary key (calibration, seq)
);

create table tare (
    number     integer primary key,             -- counts up
    bench      text not null,
    simulated  integer not null,
    part       text not null,
    made_wall  text,
    counts     double precision not null,       -- with nothing on the cell
    sd_counts  double precision,
    readings   integer not null,
    made_by    text not null
);
create index tare_bench on tare (bench, simulated, part, number);

create table pump_calibration (
    number     integer primary key,             -- counts up
    bench      text not null,
    simulated  integer not null,
    part       text not null,                   -- pump or rinse-pump
    made_wall  text,
    program    text not null,
    liquid     text not null,
    accepted   integer not null,
    said       text not null,
    creep_ml_min double precision               -- flow with the pump off; null when not looked at
);
create index pump_calibration_bench on pump_calibration (bench, simulated, part, number);

create table pump_point (
    calibration integer not null references pump_calibration (number),
    seq         integer not null,
    duty_pct    double precision not null,
    volume_ml   double precision not null,
    time_s      double precision not null,
    primary key (calibration, seq)
);

create table bench_test (
    number     integer primary key,             -- counts up
    bench      text not null,
    simulated  integer not null,
    bench_sha256 text not null references file (sha256),
    made_wall  text,
    program    text not null
);

create table bench_test_step (
    test    integer not null references bench_test (number),
    seq     integer not null,
    part    text not null,                      -- output or sensor, by its name in the bench file
    asked   text not null,
    seen    text not null,
    passed  integer not null,                   -- 0 failed, 1 passed, 2 left out
    primary key (test, seq)
);

create table pads_change (
    number      integer primary key,            -- counts up
    bench       text not null,
    simulated   integer not null,
    what        text not null,                  -- pads or cover
    made_wall   text,
    after_cycle integer not null                -- the last cycle with the old ones; 0 for none
);
create index pads_change_bench on pads_change (bench, simulated, what, number);
