/* The bare loop that ours is held against: sleep until a moment, look at the clock, sleep again. Nothing is allocated,
 * written or computed in between.
 *
 *     sleeper PERIOD TICKS    sleeps PERIOD microseconds TICKS times, then writes how late each waking was, ns a line
 *     sleeper busy            keeps one core busy until its parent ends
 *
 * Like the control loop it counts each period from the moment of the waking before, so that one long delay counts once. */
#define _GNU_SOURCE
#include <errno.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>

static int64_t now(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return t.tv_sec * INT64_C(1000000000) + t.tv_nsec;
}

static void sleep_until(int64_t moment)
{
	struct timespec t = {.tv_sec = moment / 1000000000, .tv_nsec = moment % 1000000000};
	while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL) == EINTR)
		;
}

static void busy(void)
{
	for (volatile uint64_t n = 0;; n++)
		;
}

int main(int count, char **given)
{
	prctl(PR_SET_PDEATHSIG, SIGKILL); /* whoever started us must not leave us behind */
	if (count == 2 && strcmp(given[1], "busy") == 0)
		busy();
	int64_t period = count == 3 ? atoll(given[1]) * 1000 : 0;
	long ticks = count == 3 ? atol(given[2]) : 0;
	if (period <= 0 || ticks <= 0) {
		fprintf(stderr, "usage: sleeper PERIOD TICKS, or: sleeper busy\n");
		return 2;
	}
	int64_t *late = malloc(sizeof *late * ticks);
	if (late == NULL)
		return 1;
	memset(late, 0, sizeof *late * ticks); /* its pages are there before the first tick */
	for (long i = 0; i < ticks; i++) {
		int64_t until = now() + period;
		sleep_until(until);
		late[i] = now() - until;
	}
	for (long i = 0; i < ticks; i++)
		printf("%lld\n", (long long)late[i]);
	return 0;
}
