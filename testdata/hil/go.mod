module hil

go 1.26
