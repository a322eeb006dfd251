/* What crosses the border between Python and the loops: the arrays and numbers of each loop, by name.
 *
 * Python gives them by keyword. This table is the only place that says which there are: the structs that the loops
 * are given, the reading and checking of the arguments and the signatures that Python sees are all made from it.
 *
 * IN (read) and OUT (written in place): type, name, entries in a row, what there is a row of, and, of indices, the
 * least one and what they number; that must have been counted by an array further up.
 * NUMBER: type, name. */

#ifndef LIMNER_BORDER_H
#define LIMNER_BORDER_H

#include <stdint.h>

typedef int64_t whole;
typedef uint8_t flag;

/* What rows are counted of; ANY: not indices, any value will do. */
enum { ANY, SAMPLES, PLACES, SPANS, NODES, SEGMENTS, VERTICES, PATHS, FENCES, DIMENSIONS };

/* Errors of spans points[first..last], in tolerances: see limner.curves.plan.single_cubics. `linear` has how much of
 * each place at which a span is seen is in the inner control points of its first cubic. */
#define SPAN_ERRORS(IN, OUT, NUMBER)            \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(double, tolerance, 1, SAMPLES, 0, ANY)   \
    IN(double, linear, 2, PLACES, 0, ANY)       \
    IN(whole, first, 1, SPANS, 0, SAMPLES)      \
    IN(whole, last, 1, SPANS, 0, SAMPLES)       \
    OUT(double, errors, 1, SPANS, 0, ANY)

/* Control points of the cubics of such spans. */
#define FIT_SPANS(IN, OUT, NUMBER)              \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(double, linear, 2, PLACES, 0, ANY)       \
    IN(whole, first, 1, SPANS, 0, SAMPLES)      \
    IN(whole, last, 1, SPANS, 0, SAMPLES)       \
    OUT(double, cubics, 8, SPANS, 0, ANY)

/* Gauss-Newton steps of paths: see limner.curves.refine.polish and, for the arrays, limner.curves.refine.paths. */
#define POLISH(IN, OUT, NUMBER)                 \
    OUT(double, place, 2, NODES, 0, ANY)        \
    OUT(double, angle, 2, NODES, 0, ANY)        \
    OUT(double, handle, 2, NODES, 0, ANY)       \
    IN(flag, smooth, 1, NODES, 0, ANY)          \
    IN(flag, fixed, 1, NODES, 0, ANY)           \
    IN(flag, held, 2, NODES, 0, ANY)            \
    IN(whole, start, 1, SEGMENTS, 0, NODES)     \
    IN(whole, end, 1, SEGMENTS, 0, NODES)       \
    IN(whole, before, 1, SEGMENTS, -1, SEGMENTS) \
    IN(whole, after, 1, SEGMENTS, -1, SEGMENTS) \
    IN(whole, path, 1, SEGMENTS, 0, ANY)        \
    IN(flag, straight, 1, SEGMENTS, 0, ANY)     \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(double, tolerance, 1, SAMPLES, 0, ANY)   \
    OUT(whole, segment, 1, SAMPLES, 0, SEGMENTS) \
    OUT(double, t, 1, SAMPLES, 0, ANY)          \
    NUMBER(whole, steps)                        \
    NUMBER(whole, sharp)

/* Newton steps of feet, across nodes where need be. */
#define FOLLOW_FEET(IN, OUT, NUMBER)            \
    IN(double, curves, 8, SEGMENTS, 0, ANY)     \
    IN(whole, before, 1, SEGMENTS, -1, SEGMENTS) \
    IN(whole, after, 1, SEGMENTS, -1, SEGMENTS) \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    OUT(whole, segment, 1, SAMPLES, 0, SEGMENTS) \
    OUT(double, t, 1, SAMPLES, 0, ANY)          \
    NUMBER(whole, steps)

/* Unit directions and signed distances from samples to the curves at their feet. */
#define DISTANCES(IN, OUT, NUMBER)              \
    IN(double, curves, 8, SEGMENTS, 0, ANY)     \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(whole, segment, 1, SAMPLES, 0, SEGMENTS) \
    IN(double, t, 1, SAMPLES, 0, ANY)           \
    OUT(double, normal, 2, SAMPLES, 0, ANY)     \
    OUT(double, distance, 1, SAMPLES, 0, ANY)

/* Squared distances of points from the nearest place of their own path: see limner.curves.fit.error. `first` has
 * the first segment of each path and, last, the number of segments. */
#define NEAREST(IN, OUT, NUMBER)                \
    IN(double, curves, 8, SEGMENTS, 0, ANY)     \
    IN(whole, first, 1, FENCES, 0, ANY)         \
    IN(flag, closed, 1, PATHS, 0, ANY)          \
    IN(whole, owner, 1, SAMPLES, 0, PATHS)      \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    OUT(double, u, 1, SAMPLES, 0, ANY)          \
    OUT(double, squared, 1, SAMPLES, 0, ANY)    \
    NUMBER(whole, steps)

/* Squared distances of points from the nearest chord of their own polyline, and the place there: chord and share of
 * it. `first` has the first vertex of each polyline and, last, the number of vertices; points of one polyline are best
 * given one after the other. */
#define NEAREST_CHORDS(IN, OUT, NUMBER)         \
    IN(double, vertices, 2, VERTICES, 0, ANY)   \
    IN(whole, first, 1, FENCES, 0, ANY)         \
    IN(whole, owner, 1, SAMPLES, 0, FENCES)     \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    OUT(double, squared, 1, SAMPLES, 0, ANY)    \
    OUT(double, place, 1, SAMPLES, 0, ANY)

/* Corners of one polyline's samples: see limner.curves.data.corners. Each row: its sample, the x and y of its tip,
 * its turn in degrees, the samples that are rounded off on each side. */
#define FIND_CORNERS(IN, OUT, NUMBER)           \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(double, tolerance, 1, SAMPLES, 0, ANY)   \
    OUT(double, corners, 5, SAMPLES, 0, ANY)    \
    NUMBER(double, typical)                     \
    NUMBER(double, step)                        \
    NUMBER(double, spacing)                     \
    NUMBER(double, noise)                       \
    NUMBER(whole, closed)

/* A line of the least change of curvature near its samples: see limner.curves.calm.lines. `stiff` is that of the third
 * difference of each sample and the three that follow; the last three are not looked at. A weight of no more than a
 * half takes its sample out of the band. */
#define CALM(IN, OUT, NUMBER)                   \
    IN(double, points, 2, SAMPLES, 0, ANY)      \
    IN(double, target, 2, SAMPLES, 0, ANY)      \
    IN(double, band, 1, SAMPLES, 0, ANY)        \
    IN(double, weight, 1, SAMPLES, 0, ANY)      \
    IN(double, stiff, 1, SAMPLES, 0, ANY)       \
    OUT(double, line, 2, SAMPLES, 0, ANY)       \
    NUMBER(whole, reach)                        \
    NUMBER(whole, rounds)

#define LOOPS(LOOP)                             \
    LOOP(span_errors, SPAN_ERRORS)              \
    LOOP(fit_spans, FIT_SPANS)                  \
    LOOP(polish, POLISH)                        \
    LOOP(follow_feet, FOLLOW_FEET)              \
    LOOP(distances, DISTANCES)                  \
    LOOP(nearest, NEAREST)                      \
    LOOP(nearest_chords, NEAREST_CHORDS)        \
    LOOP(find_corners, FIND_CORNERS)            \
    LOOP(calm, CALM)

/* The arguments of each loop: `polish_arguments` and so on, with the number of rows of each kind. */
#define READ_FIELD(type, name, columns, rows, least, end) const type *name;
#define WRITTEN_FIELD(type, name, columns, rows, least, end) type *name;
#define NUMBER_FIELD(type, name) type name;
#define DECLARE_ARGUMENTS(loop, TABLE)                     \
    typedef struct {                                       \
        TABLE(READ_FIELD, WRITTEN_FIELD, NUMBER_FIELD)     \
        whole rows[DIMENSIONS];                            \
    } loop##_arguments;
LOOPS(DECLARE_ARGUMENTS)

#endif
