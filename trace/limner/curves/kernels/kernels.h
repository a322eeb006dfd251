/* The loops, without any Python in them; border.h says what the arrays are. */

#ifndef LIMNER_KERNELS_H
#define LIMNER_KERNELS_H

#include "border.h"

/* Places at which a span is seen, ends included: three per degree of freedom of a cubic, and some. */
enum { SEEN = 17 };

typedef struct {
    const double *points;    /* x y of each sample */
    const double *tolerance; /* of each sample; NULL where no errors are asked for */
    whole count;             /* of samples */
    const double *linear;    /* for each place, how much of it is in the two inner control points at first */
} span_task;

double span_error(const span_task *task, whole first, whole last);
void fit_span(const span_task *task, whole first, whole last, double *controls);

void follow_foot(const double *curves, const whole *before, const whole *after, const double *point, int steps,
                 whole *segment, double *t);
void distance_at(const double *curve, const double *point, double t, double *normal, double *distance);
void nearest_on_path(const double *curves, whole count, int closed, const double *point, int steps, double *u,
                     double *squared);

/* Whether there was memory enough. */
int find_nearest_chords(const nearest_chords_arguments *a);
int polish_paths(const polish_arguments *set);
int calm_line(const calm_arguments *a);

/* How many there are, in no order, or -1 where there was not memory enough. */
whole corners_of(const find_corners_arguments *task);

#endif
