#ifndef FOAMPULSE_IMPACT_CLOCK_H
#define FOAMPULSE_IMPACT_CLOCK_H

/*
 * Time of a central-difference scheme with a varying step: positions at `time`, velocities half a step
 * behind. The force at `time` drives the velocity from the middle of the step before to the middle of the
 * coming step, so it counts over that span in records too.
 */

struct clock {
    double time;   /* [s] of the present positions */
    double before; /* step that led here; 0 at the start */
    double step;   /* coming step */
    double first;
    double longest; /* that a step may become */
    long count;
};

/* Starts at time 0 with this step; none will be longer than `longest` (INFINITY: any). */
static inline struct clock clock_start(double step, double longest)
{
    return (struct clock){.step = step, .first = step, .longest = longest};
}

/* Span [s] over which the force of now changes the velocity. */
static inline double clock_velocity_step(const struct clock *clock)
{
    return 0.5 * (clock->before + clock->step);
}

/* Where records of force have come to [s]; a run goes on until that is its duration. */
static inline double clock_force_from(const struct clock *clock)
{
    return clock->time - 0.5 * clock->before;
}

static inline double clock_force_to(const struct clock *clock)
{
    return clock->time + 0.5 * clock->step;
}

/* Ends the step; the next is `stable`, but grows by a tenth and to `longest` at most. 0 when the step has
 * collapsed below a ten-thousandth of the first or is not a number. */
static inline int clock_advance(struct clock *clock, double stable)
{
    double grown = 1.1 * clock->step, longest = grown < clock->longest ? grown : clock->longest;
    clock->time += clock->step;
    clock->before = clock->step;
    clock->step = stable < longest ? stable : longest;
    clock->count++;
    return clock->step > 1e-4 * clock->first;
}

#endif
