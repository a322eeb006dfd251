/* A line with the least change of curvature near its samples: see curves/calm/lines.py for the method. */

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "kernels.h"

/* Third differences reach over so many samples beside each. */
#define REACH 3
static const double third[REACH + 1] = {-1.0, 3.0, -3.0, 1.0};
/* Where the line leaves its band, its samples weigh the square of this more, at most this many times a round. */
#define MOST_HEAVIER 10.0
/* Within so much more than the band it is in it. */
#define IN_BAND 1.02

/* The samples' weights and the third differences' stiffness as a symmetric matrix of seven diagonals, in place as
 * its factors: row i has its own entry, then those beside it on the left. */
static void factored(const calm_arguments *a, const double *weight, double *rows)
{
    whole n = a->rows[SAMPLES];
    for (whole i = 0; i < n; i++) {
        double *row = rows + (REACH + 1) * i;
        row[0] = weight[i], row[1] = row[2] = row[3] = 0.0;
    }
    for (whole k = 0; k + REACH < n; k++)
        for (int i = 0; i <= REACH; i++)
            for (int j = 0; j <= i; j++)
                rows[(REACH + 1) * (k + i) + i - j] += a->stiff[k] * third[i] * third[j];
    /* Cholesky's, without roots: row = own pivot, then the factors of the pivots on the left. */
    for (whole i = 0; i < n; i++) {
        double *row = rows + (REACH + 1) * i;
        for (int back = i < REACH ? (int)i : REACH; back >= 1; back--) {
            const double *left = rows + (REACH + 1) * (i - back);
            double value = row[back];
            for (int more = back + 1; more <= REACH && more <= i; more++)
                value -= row[more] * left[more - back] * rows[(REACH + 1) * (i - more)];
            row[back] = value / left[0];
        }
        for (int back = 1; back <= REACH && back <= i; back++)
            row[0] -= row[back] * row[back] * rows[(REACH + 1) * (i - back)];
    }
}

static void solved(whole n, const double *rows, const double *weight, const double *target, double *line)
{
    for (whole i = 0; i < n; i++)
        for (int axis = 0; axis < 2; axis++) {
            double value = weight[i] * target[2 * i + axis];
            for (int back = 1; back <= REACH && back <= i; back++)
                value -= rows[(REACH + 1) * i + back] * line[2 * (i - back) + axis];
            line[2 * i + axis] = value;
        }
    for (whole i = n - 1; i >= 0; i--)
        for (int axis = 0; axis < 2; axis++) {
            double value = line[2 * i + axis] / rows[(REACH + 1) * i];
            for (int ahead = 1; ahead <= REACH && i + ahead < n; ahead++)
                value -= rows[(REACH + 1) * (i + ahead) + ahead] * line[2 * (i + ahead) + axis];
            line[2 * i + axis] = value;
        }
}

/* How far the line is across itself from each of its samples, in their bands. */
static void set_off(const calm_arguments *a, double *off)
{
    whole n = a->rows[SAMPLES];
    for (whole i = 0; i < n; i++) {
        whole before = i ? i - 1 : i, after = i + 1 < n ? i + 1 : i;
        const double *line = a->line + 2 * i;
        double x = a->line[2 * after] - a->line[2 * before], y = a->line[2 * after + 1] - a->line[2 * before + 1];
        double length = hypot(x, y), across = x * (line[1] - a->points[2 * i + 1]) - y * (line[0] - a->points[2 * i]);
        off[i] = a->weight[i] > 0.5 && length > 0.0 ? fabs(across) / length / a->band[i] : 0.0;
    }
}

/* Samples near those that left the band weigh more; whether there were any. */
static int made_heavier(const calm_arguments *a, const double *off, double *weight)
{
    whole n = a->rows[SAMPLES];
    int any = 0;
    for (whole i = 0; i < n; i++) {
        double worst = 0.0;
        for (whole k = i - a->reach < 0 ? 0 : i - a->reach; k <= i + a->reach && k < n; k++)
            if (off[k] > worst)
                worst = off[k];
        if (worst > IN_BAND && a->weight[i] > 0.5) {
            worst = worst < MOST_HEAVIER ? worst : MOST_HEAVIER;
            weight[i] *= worst * worst;
            any = 1;
        }
    }
    return any;
}

int calm_line(const calm_arguments *a)
{
    size_t n = (size_t)a->rows[SAMPLES];
    double *rows = malloc(sizeof(double) * (REACH + 3) * n);
    if (!rows)
        return 0;
    double *weight = rows + (REACH + 1) * n, *off = weight + n;
    memcpy(weight, a->weight, sizeof(double) * n);
    for (whole k = 0; k < a->rounds; k++) {
        factored(a, weight, rows);
        solved(a->rows[SAMPLES], rows, weight, a->target, a->line);
        set_off(a, off);
        if (!made_heavier(a, off, weight))
            break;
    }
    free(rows);
    return 1;
}
