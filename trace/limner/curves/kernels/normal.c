/* Normal equations of one segment: how the distances change with its nodes, directions and handles; and the solution
 * of a path's.
 *
 * Method: every change of a distance is a polynomial in the foot's parameter times a component of its normal. So the
 * sums over the samples are needed only for the powers of the parameter ("moments"); the equations follow from them
 * by one small matrix per segment. A weak pull on the handles decides what the data leave open, and heavy equations
 * keep the directions at the smooth ends of straight lines along these.
 *
 * Limits: the parameters of the feet must lie in 0..1. */

#include "normal.h"

#include <math.h>
#include <string.h>

/* Weight of the pull on handles, against that of the data: it decides only what the data leave open. */
#define PULL 1e-8
/* Where the pull leads, in chords: a little above a third, as curves are longer than their chords. */
#define PULLED_TO (1.0 / 2.7)
/* Weight of a straight line's say in the direction of its smooth ends, against that of its data. */
#define LINE_WEIGHT 100.0

/* Coefficients, by powers of the parameter, of the weights of start, first handle, second handle and end: a
 * node's place moves its handle along. The second table is that of straight lines. */
static const double weight_of[2][4][4] = {
    {{1, 0, -3, 2}, {0, 3, -6, 3}, {0, 0, 3, -3}, {0, 0, 3, -2}},
    {{1, -1, 0, 0}, {0, 0, 0, 0}, {0, 0, 0, 0}, {0, 1, 0, 0}},
};
/* Which of the weights each unknown has. */
static const int kind[8] = {0, 0, 1, 1, 3, 3, 2, 2};

void add_moments(double *moments, double t, const double *normal, double distance, double weight)
{
    double wx = weight * normal[0], wy = weight * normal[1];
    double xx = wx * normal[0], xy = wx * normal[1], yy = wy * normal[1];
    for (int k = 0; k < 21; k += 3) {
        moments[k] += xx;
        moments[k + 1] += xy;
        moments[k + 2] += yy;
        xx *= t, xy *= t, yy *= t;
    }
    wx *= distance, wy *= distance;
    for (int k = 21; k < MOMENTS; k += 2) {
        moments[k] += wx;
        moments[k + 1] += wy;
        wx *= t, wy *= t;
    }
}

/* Add a row of an equation, weighted, with what is off. */
static void add_row(const double row[8], double off, double weight, double *matrix, double *right)
{
    for (int i = 0; i < 8; i++) {
        for (int j = 0; j < 8; j++)
            matrix[8 * i + j] += weight * row[i] * row[j];
        right[i] += weight * row[i] * off;
    }
}

/* A weak pull on the handles decides what the data leave open. */
static void add_pull(const segment_ends *ends, const double *c, double *matrix,
                     double *right)
{
    double weight = PULL * (matrix[0] + matrix[9] + matrix[36] + matrix[45]);
    double length = PULLED_TO * hypot(c[6] - c[0], c[7] - c[1]);
    matrix[27] += weight;
    matrix[63] += weight;
    right[3] += weight * (ends->h_out - length);
    right[7] += weight * (ends->h_into - length);
}

/* Make the directions at smooth ends of a straight line follow it. */
static void add_line(const segment_ends *ends, const double *c, double *matrix,
                     double *right)
{
    double x = c[6] - c[0], y = c[7] - c[1], length = fmax(hypot(x, y), 1e-300), along = atan2(y, x);
    double weight = LINE_WEIGHT * (matrix[0] + matrix[9] + 1e-300) * length * length;
    /* Divided twice: the square of a length may be too small for a number. */
    double across_x = -y / length / length, across_y = x / length / length;
    double row[8] = {across_x, across_y, 0, 0, -across_x, -across_y, 0, 0};
    double off[2] = {ends->out - along, ends->into - along};
    int smooth[2] = {ends->start_smooth, ends->end_smooth};
    for (int side = 0; side < 2; side++) {
        if (!smooth[side])
            continue;
        row[2] = side == 0;
        row[6] = side == 1;
        add_row(row, atan2(sin(off[side]), cos(off[side])), weight, matrix, right);
    }
}

void segment_equations(const segment_ends *ends, const double *controls, const double *moments,
                       double *matrix, double *right)
{
    double cos_a = cos(ends->out), sin_a = sin(ends->out), cos_b = -cos(ends->into), sin_b = -sin(ends->into);
    double h_a = ends->h_out, h_b = ends->h_into;
    double axis[8][2] = {{1, 0}, {0, 1}, {-h_a * sin_a, h_a * cos_a}, {cos_a, sin_a},
                         {1, 0}, {0, 1}, {-h_b * sin_b, h_b * cos_b}, {cos_b, sin_b}};
    const double(*table)[4] = weight_of[ends->straight];
    /* Sums of products of the weights with each pair of components of the normal. */
    double square[4][4][3], mixed[4][2];
    for (int i = 0; i < 4; i++) {
        for (int j = 0; j < 4; j++)
            for (int ab = 0; ab < 3; ab++) {
                double sum = 0.0;
                for (int p = 0; p < 4; p++)
                    for (int q = 0; q < 4; q++)
                        sum += table[i][p] * table[j][q] * moments[3 * (p + q) + ab];
                square[i][j][ab] = sum;
            }
        for (int a = 0; a < 2; a++) {
            double sum = 0.0;
            for (int p = 0; p < 4; p++)
                sum += table[i][p] * moments[21 + 2 * p + a];
            mixed[i][a] = sum;
        }
    }
    for (int u = 0; u < 8; u++) {
        for (int v = 0; v < 8; v++) {
            const double *s = square[kind[u]][kind[v]];
            matrix[8 * u + v] = axis[u][0] * (axis[v][0] * s[0] + axis[v][1] * s[1])
                + axis[u][1] * (axis[v][0] * s[1] + axis[v][1] * s[2]);
        }
        right[u] = axis[u][0] * mixed[kind[u]][0] + axis[u][1] * mixed[kind[u]][1];
    }
    if (ends->straight)
        add_line(ends, controls, matrix, right);
    else
        add_pull(ends, controls, matrix, right);
}

/* Cholesky's method. Row i of `band` has the entries i, i - 1, ... of the matrix's row i. An unknown without a
 * say keeps its value. Whether the matrix was positive. */
int solve_banded(double *band, double *wanted, whole size)
{
    for (whole i = 0; i < size; i++) {
        double *row = band + BAND * i;
        whole first = i < BAND - 1 ? 0 : i - (BAND - 1);
        double own = row[0] > 0.0 ? row[0] : 1.0;
        for (whole j = first; j < i; j++) {
            const double *other = band + BAND * j;
            double sum = row[i - j];
            for (whole k = j - (BAND - 1) > first ? j - (BAND - 1) : first; k < j; k++)
                sum -= row[i - k] * other[j - k];
            row[i - j] = sum / other[0];
            own -= row[i - j] * row[i - j];
            wanted[i] -= row[i - j] * wanted[j];
        }
        if (!(own > 0.0))
            return 0;
        row[0] = sqrt(own);
        wanted[i] /= row[0];
    }
    for (whole i = size - 1; i >= 0; i--) {
        const double *row = band + BAND * i;
        wanted[i] /= row[0];
        for (whole j = i < BAND - 1 ? 0 : i - (BAND - 1); j < i; j++)
            wanted[j] -= row[i - j] * wanted[i];
    }
    return 1;
}
