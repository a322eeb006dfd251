/* Normal equations of one segment, and the solution of a path's: see normal.c. */

#ifndef LIMNER_NORMAL_H
#define LIMNER_NORMAL_H

#include "kernels.h"

/* Sums over the samples: for powers 0 to 6 of the parameter, the products xx, xy, yy of the normal; then, for
 * powers 0 to 3, its products x, y with the distance. */
enum { MOMENTS = 29 };

/* Entries of a row of the banded system, its own included: nodes joined by a segment are at most two places
 * apart, and have three unknowns each. */
enum { BAND = 9 };

typedef struct {
    double out, h_out, into, h_into; /* direction and handle of the start and of the end */
    int straight, start_smooth, end_smooth;
} segment_ends;

void add_moments(double *moments, double t, const double *normal, double distance, double weight);
void segment_equations(const segment_ends *ends, const double *controls, const double *moments,
                       double *matrix, double *right);
int solve_banded(double *band, double *wanted, whole size);

#endif
