/* Best single cubics for spans of samples.
 *
 * Method: each span is seen at a fixed number of places, evenly spaced by arc length. A first cubic is the linear
 * least-squares one with the span's ends held (one constant matrix for all spans); it is improved by Gauss-Newton
 * steps on the distances along the normals with the foot points moved along (Borges and Pastva 2002 describe such
 * total least-squares fitting; from memory). Where only the error is asked for, spans that are clearly met, or
 * clearly not, are left early.
 *
 * Limits: handles are free here, so that neighbouring spans agree in tangent only as far as the data do. */

#include "cubic.h"
#include "kernels.h"

/* Gauss-Newton steps; the error is within a few per cent of its limit after three. */
#define STEPS 3
/* A span whose error is below this many tolerances will not decide where nodes go; one that after the first step
 * is still worse than this many will not come down to what is looked at. */
#define SURELY_MET 0.1
#define SURELY_NOT 24.0
/* Longest step of a foot, in parameters, and of a handle, as a share of the span's length: from the even start,
 * feet and handles are near what they should be. */
#define LONGEST_STEP 0.15
#define LONGEST_CHANGE 0.3
/* Sliding a handle along the curve is nearly free: a little damping keeps it from running away. */
#define DAMPING 1e-3
/* Keeps a cubic that stands still from dividing by nothing. */
#define SMALLEST 1e-200

typedef struct {
    double x[SEEN], y[SEEN], t[SEEN];
    /* Normals, not of unit length; what the points lie off, times that length; and one over its square. */
    double nx[SEEN], ny[SEEN], off[SEEN], share[SEEN];
    double controls[8];
    double reach;
} span;

/* Parameter of a place before any foot is known. */
static double even(int k)
{
    return (double)k / (SEEN - 1);
}

static void see(const span_task *task, whole first, whole last, span *s, double *allowed)
{
    for (int k = 0; k < SEEN; k++) {
        double where = (double)first + (double)(last - first) * even(k);
        whole low = (whole)where;
        if (low > task->count - 2)
            low = task->count - 2;
        double part = where - (double)low;
        const double *a = task->points + 2 * low;
        s->x[k] = a[0] + part * (a[2] - a[0]);
        s->y[k] = a[1] + part * (a[3] - a[1]);
        if (allowed)
            allowed[k] = task->tolerance[(whole)(where + 0.5)];
    }
}

/* Linear least squares with even parameters and fixed ends. */
static void start(const span_task *task, span *s)
{
    double x1 = 0.0, y1 = 0.0, x2 = 0.0, y2 = 0.0;
    for (int k = 0; k < SEEN; k++) {
        double w1 = task->linear[2 * k], w2 = task->linear[2 * k + 1];
        x1 += s->x[k] * w1;
        y1 += s->y[k] * w1;
        x2 += s->x[k] * w2;
        y2 += s->y[k] * w2;
        s->t[k] = even(k);
    }
    double controls[8] = {s->x[0], s->y[0], x1, y1, x2, y2, s->x[SEEN - 1], s->y[SEEN - 1]};
    for (int k = 0; k < 8; k++)
        s->controls[k] = controls[k];
}

/* Length of the span as seen at its places. */
static void set_reach(span *s)
{
    s->reach = 0.0;
    for (int k = 1; k < SEEN; k++) {
        double dx = s->x[k] - s->x[k - 1], dy = s->y[k] - s->y[k - 1];
        s->reach += sqrt(dx * dx + dy * dy);
    }
}

/* One Newton step of the feet; then normals and signed distances there. */
static void foot(span *s)
{
    cubic c = cubic_of(s->controls);
    for (int k = 0; k < SEEN; k++) {
        view v = seen_from(&c, s->t[k], s->x[k], s->y[k]);
        double t = clamped(s->t[k] - foot_step(&c, &v, s->t[k], LONGEST_STEP), 0.0, 1.0);
        v = seen_from(&c, t, s->x[k], s->y[k]);
        s->t[k] = t;
        s->nx[k] = -v.dy;
        s->ny[k] = v.dx;
        s->off[k] = v.ry * v.dx - v.rx * v.dy;
        s->share[k] = 1.0 / (v.dx * v.dx + v.dy * v.dy + SMALLEST);
    }
}

/* Cholesky's method for four unknowns: `right` becomes the solution. */
static void solve_four(double matrix[4][4], double right[4])
{
    for (int j = 0; j < 4; j++) {
        for (int k = 0; k < j; k++)
            for (int i = j; i < 4; i++)
                matrix[i][j] -= matrix[i][k] * matrix[j][k];
        double root = 1.0 / sqrt(matrix[j][j]);
        for (int i = j; i < 4; i++)
            matrix[i][j] *= root;
        right[j] *= root;
        for (int i = j + 1; i < 4; i++)
            right[i] -= matrix[i][j] * right[j];
    }
    for (int j = 3; j >= 0; j--) {
        right[j] /= matrix[j][j];
        for (int i = 0; i < j; i++)
            right[i] -= matrix[j][i] * right[j];
    }
}

/* Sum of the products of two columns of SEEN + 1 numbers. */
static double product(const double *a, const double *b)
{
    double even = 0.0, odd = 0.0;
    for (int k = 0; k <= SEEN; k += 2) {
        even += a[k] * b[k];
        odd += a[k + 1] * b[k + 1];
    }
    return even + odd;
}

/* One Gauss-Newton step of the inner control points. */
static void improve(span *s)
{
    /* By columns, an even number of rows: sums are then taken two at a time. */
    double column[5][SEEN + 1], weighted[4][SEEN + 1], matrix[4][4], change[4];
    for (int k = 0; k < SEEN; k++) {
        double t = s->t[k], r = 1.0 - t, b1 = 3.0 * r * r * t, b2 = 3.0 * r * t * t;
        column[0][k] = b1 * s->nx[k];
        column[1][k] = b1 * s->ny[k];
        column[2][k] = b2 * s->nx[k];
        column[3][k] = b2 * s->ny[k];
        column[4][k] = -s->off[k];
        for (int i = 0; i < 4; i++)
            weighted[i][k] = s->share[k] * column[i][k];
    }
    for (int i = 0; i < 5; i++)
        column[i][SEEN] = 0.0;
    for (int i = 0; i < 4; i++) {
        weighted[i][SEEN] = 0.0;
        for (int m = 0; m <= i; m++)
            matrix[i][m] = product(weighted[i], column[m]);
        change[i] = product(weighted[i], column[4]);
    }
    for (int i = 0; i < 4; i++)
        matrix[i][i] += DAMPING;
    solve_four(matrix, change);
    double size = 1e-300;
    for (int i = 0; i < 4; i++)
        if (fabs(change[i]) > size)
            size = fabs(change[i]);
    double share = LONGEST_CHANGE * s->reach / size;
    if (share > 1.0)
        share = 1.0;
    for (int i = 0; i < 4; i++)
        s->controls[2 + i] += change[i] * share;
}

/* Largest distance of the places from the linear fit, in the least of their tolerances. */
static double linear_error(const span *s, const double *allowed)
{
    cubic c = cubic_of(s->controls);
    double farthest = 0.0, least = allowed[0];
    for (int k = 0; k < SEEN; k++) {
        view v = seen_from(&c, s->t[k], s->x[k], s->y[k]);
        double squared = v.rx * v.rx + v.ry * v.ry;
        if (squared > farthest || squared != squared)
            farthest = squared;
        if (allowed[k] < least)
            least = allowed[k];
    }
    return sqrt(farthest) / least;
}

double span_error(const span_task *task, whole first, whole last)
{
    span s;
    double allowed[SEEN], worth[SEEN];
    see(task, first, last, &s, allowed);
    start(task, &s);
    double error = linear_error(&s, allowed);
    if (error <= SURELY_MET)
        return error;
    set_reach(&s);
    for (int k = 0; k < SEEN; k++)
        worth[k] = 1.0 / (allowed[k] * allowed[k]);
    for (int step = 0;; step++) {
        foot(&s);
        if (step) {
            double largest = 0.0;
            for (int k = 0; k < SEEN; k++) {
                double squared = s.off[k] * s.off[k] * s.share[k] * worth[k];
                if (squared > largest || squared != squared)
                    largest = squared;
            }
            error = sqrt(largest);
        }
        if (step == STEPS || (step && (error <= SURELY_MET || error >= SURELY_NOT)))
            return error;
        improve(&s);
    }
}

void fit_span(const span_task *task, whole first, whole last, double *controls)
{
    span s;
    see(task, first, last, &s, NULL);
    start(task, &s);
    set_reach(&s);
    for (int step = 0; step < STEPS; step++) {
        foot(&s);
        improve(&s);
    }
    for (int k = 0; k < 8; k++)
        controls[k] = s.controls[k];
}
