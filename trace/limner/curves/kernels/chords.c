/* Nearest chords of polylines, for many points.
 *
 * Method: the chords of a polyline lie in blocks, about as many of them as each has chords, with a box around each; a
 * block whose box is farther off than the nearest chord so far is passed over. Points that follow each other begin
 * with the block in which the one before ended. */

#include <math.h>
#include <stdlib.h>

#include "kernels.h"

typedef struct {
    double low_x, low_y, high_x, high_y;
} box;

/* The chords of one polyline, by blocks. */
typedef struct {
    const double *vertices;
    whole chords, size, blocks;
    box *boxes;
} polyline;

static whole block_size(whole chords)
{
    return (whole)sqrt((double)chords) + 1;
}

static void take_polyline(polyline *line, const double *vertices, whole chords)
{
    line->vertices = vertices;
    line->chords = chords;
    line->size = block_size(chords);
    line->blocks = (chords + line->size - 1) / line->size;
    for (whole b = 0; b < line->blocks; b++) {
        whole first = b * line->size, last = first + line->size < chords ? first + line->size : chords;
        box around = {INFINITY, INFINITY, -INFINITY, -INFINITY};
        for (whole k = first; k <= last; k++) {
            double x = vertices[2 * k], y = vertices[2 * k + 1];
            around.low_x = fmin(around.low_x, x), around.high_x = fmax(around.high_x, x);
            around.low_y = fmin(around.low_y, y), around.high_y = fmax(around.high_y, y);
        }
        line->boxes[b] = around;
    }
}

static double beside(double value, double low, double high)
{
    return value < low ? low - value : value > high ? value - high : 0.0;
}

static double squared_to_box(const box *around, double x, double y)
{
    double dx = beside(x, around->low_x, around->high_x), dy = beside(y, around->low_y, around->high_y);
    return dx * dx + dy * dy;
}

/* Look at the chords of a block; whether one was nearer. */
static int search_block(const polyline *line, whole block, double x, double y, double *squared, double *place)
{
    whole first = block * line->size, end = first + line->size;
    int nearer = 0;
    for (whole k = first; k < end && k < line->chords; k++) {
        const double *a = line->vertices + 2 * k;
        double step_x = a[2] - a[0], step_y = a[3] - a[1], away_x = x - a[0], away_y = y - a[1];
        double length2 = step_x * step_x + step_y * step_y;
        double share = length2 > 0.0 ? (away_x * step_x + away_y * step_y) / length2 : 0.0;
        share = share < 0.0 ? 0.0 : share > 1.0 ? 1.0 : share;
        away_x -= share * step_x, away_y -= share * step_y;
        double here = away_x * away_x + away_y * away_y;
        if (here < *squared) {
            *squared = here;
            *place = (double)k + share;
            nearer = 1;
        }
    }
    return nearer;
}

int find_nearest_chords(const nearest_chords_arguments *a)
{
    whole most = 0, current = -1, block = 0;
    for (whole k = 0; k + 1 < a->rows[FENCES]; k++)
        if (a->first[k + 1] - a->first[k] > most)
            most = a->first[k + 1] - a->first[k];
    polyline line = {.boxes = malloc(sizeof(box) * (size_t)(block_size(most) + 1))};
    if (!line.boxes)
        return 0;
    for (whole i = 0; i < a->rows[SAMPLES]; i++) {
        if (a->owner[i] != current) {
            current = a->owner[i], block = 0;
            whole first = a->first[current];
            take_polyline(&line, a->vertices + 2 * first, a->first[current + 1] - first - 1);
        }
        double x = a->points[2 * i], y = a->points[2 * i + 1], squared = INFINITY, place = 0.0;
        search_block(&line, block, x, y, &squared, &place);
        whole start = block;
        for (whole b = 0; b < line.blocks; b++)
            if (b != start && squared_to_box(line.boxes + b, x, y) < squared
                && search_block(&line, b, x, y, &squared, &place))
                block = b;
        a->squared[i] = squared;
        a->place[i] = place;
    }
    free(line.boxes);
    return 1;
}
