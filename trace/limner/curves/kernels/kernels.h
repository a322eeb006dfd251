/* The kernels, without any Python in them; Python's side of each says what the arrays are. */

#ifndef LIMNER_KERNELS_H
#define LIMNER_KERNELS_H

#include <stddef.h>
#include <stdint.h>

typedef int64_t whole;

/* Places at which a span is seen. */
enum { PLACES = 17 };

typedef struct {
    const double *points;    /* x y of each sample */
    const double *tolerance; /* of each sample; NULL where no errors are asked for */
    whole count;             /* of samples */
    const double *even;      /* PLACES parameters */
    const double *inner;     /* PLACES x 2: from places to inner control points */
    int steps;
    double surely_met, surely_not;
} span_task;

double span_error(const span_task *task, whole first, whole last);
void fit_span(const span_task *task, whole first, whole last, double *controls);

typedef struct {
    double *place, *angle, *handle; /* two of each node */
    const uint8_t *smooth, *fixed, *held; /* `held` has two of each node */
    const whole *start, *end, *before, *after, *path; /* of each segment */
    const uint8_t *straight;
    const double *points, *tolerance; /* of each sample */
    whole *segment;
    double *t;
    whole nodes, segments, samples;
} path_set;

typedef struct {
    double longest_handle, shortest_handle, largest_move, largest_turn, smallest_room;
    double first_damping, settled_damping, settled_gain, sharp_most, sharp_least;
    double pull, pulled_to, line_weight;
    double first_foot_steps, foot_steps;
} polish_rules;

/* Whether there was memory enough. */
int polish_paths(const path_set *set, const polish_rules *rules, int steps, int sharp);

void follow_foot(const double *curves, const whole *before, const whole *after, double x, double y, int steps,
                 whole *segment, double *t);
void distance_at(const double *curve, double x, double y, double t, double *normal, double *distance);
void nearest_on_path(const double *curves, whole count, int closed, double x, double y, int steps, double *u,
                     double *best);

/* Lengths of arms that are looked along, and factors by which straight ones may be longer. */
enum { ARMS = 2, LONG_ARMS = 3 };

typedef struct {
    double arms[3 * ARMS]; /* left out, length, least turn */
    double blur_spacings, spacings_per_arm, rounded_tolerances, rounded_spacings;
    double long_arms[LONG_ARMS];
    double long_arm_straight, fewest_in_arm, sure_sigmas, farthest_tip;
} corner_rules;

typedef struct {
    const double *points, *tolerance; /* of each sample */
    whole count;
    int closed;
    double typical, step, spacing, noise; /* a typical tolerance; the rest as in samples.py */
    whole apart;                          /* samples up to which two corners are one */
    const corner_rules *rules;
} corner_task;

typedef struct {
    double index, x, y, turn, rounded;
} corner;

/* How many there are, in no order, or -1 where there was not memory enough; `made` has room for two of each
 * sample. */
whole find_corners(const corner_task *task, corner *made);

#endif
