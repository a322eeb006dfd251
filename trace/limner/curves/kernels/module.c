/* What Python sees of the kernels: arrays come as contiguous buffers, are written where the caller says so, and
 * are checked for their sizes; the interpreter is released meanwhile. */

#define PY_SSIZE_T_CLEAN
#define Py_LIMITED_API 0x030B0000
#include <Python.h>
#include <string.h>

#include "kernels.h"

#define MOST_BUFFERS 20

/* The buffers of one call. */
typedef struct {
    Py_buffer of[MOST_BUFFERS];
    int count;
} buffers;

static void let_go(buffers *all)
{
    while (all->count)
        PyBuffer_Release(&all->of[--all->count]);
}

/* Take as many buffers from the arguments as the format has letters: r to read, w to write. What is left of the
 * arguments are whole numbers. */
static int take_all(PyObject *arguments, const char *format, buffers *all, long *numbers, int wanted)
{
    Py_ssize_t given = PyTuple_Size(arguments), size = (Py_ssize_t)strlen(format);
    all->count = 0;
    if (given != size + wanted) {
        PyErr_Format(PyExc_TypeError, "%zd arguments where %zd are needed", given, size + wanted);
        return 0;
    }
    for (Py_ssize_t k = 0; k < size; k++) {
        int flags = format[k] == 'w' ? PyBUF_WRITABLE : PyBUF_SIMPLE;
        if (PyObject_GetBuffer(PyTuple_GetItem(arguments, k), &all->of[k], flags)) {
            let_go(all);
            return 0;
        }
        all->count++;
    }
    for (int k = 0; k < wanted; k++) {
        numbers[k] = PyLong_AsLong(PyTuple_GetItem(arguments, size + k));
        if (numbers[k] == -1 && PyErr_Occurred()) {
            let_go(all);
            return 0;
        }
    }
    return 1;
}

/* Whether each buffer has as many bytes as it must. */
static int sized(buffers *all, const Py_ssize_t *bytes)
{
    for (int k = 0; k < all->count; k++)
        if (all->of[k].len != bytes[k]) {
            PyErr_Format(PyExc_ValueError, "array %d has %zd bytes where %zd are needed", k, all->of[k].len, bytes[k]);
            let_go(all);
            return 0;
        }
    return 1;
}

/* Whether all of the indices lie in 0 .. end - 1 (or are -1 where that is allowed). */
static int within(buffers *all, int which, whole least, whole end)
{
    const whole *index = all->of[which].buf;
    Py_ssize_t count = all->of[which].len / (Py_ssize_t)sizeof(whole);
    for (Py_ssize_t k = 0; k < count; k++)
        if (index[k] < least || index[k] >= end) {
            PyErr_Format(PyExc_IndexError, "array %d has an index that lies outside", which);
            let_go(all);
            return 0;
        }
    return 1;
}

#define D ((Py_ssize_t)sizeof(double))
#define W ((Py_ssize_t)sizeof(whole))

/* points, tolerance, first, last, even, inner, limits, out; steps */
static PyObject *span_errors(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long steps;
    if (!take_all(arguments, "rrrrrrrw", &all, &steps, 1))
        return NULL;
    Py_ssize_t count = all.of[1].len / D, spans = all.of[2].len / W;
    const Py_ssize_t bytes[] = {2 * D * count, D * count, W * spans, W * spans, D * PLACES,
                                2 * D * PLACES, 2 * D, D * spans};
    if (!sized(&all, bytes) || !within(&all, 2, 0, count - 1) || !within(&all, 3, 1, count))
        return NULL;
    const double *limits = all.of[6].buf;
    const span_task task = {all.of[0].buf, all.of[1].buf, count, all.of[4].buf, all.of[5].buf,
                            (int)steps, limits[0], limits[1]};
    const whole *first = all.of[2].buf, *last = all.of[3].buf;
    double *out = all.of[7].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t k = 0; k < spans; k++)
        out[k] = span_error(&task, first[k], last[k]);
    Py_END_ALLOW_THREADS
    let_go(&all);
    Py_RETURN_NONE;
}

/* points, first, last, even, inner, out */
static PyObject *fit_spans(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long steps;
    if (!take_all(arguments, "rrrrrw", &all, &steps, 1))
        return NULL;
    Py_ssize_t count = all.of[0].len / (2 * D), spans = all.of[1].len / W;
    const Py_ssize_t bytes[] = {2 * D * count, W * spans, W * spans, D * PLACES, 2 * D * PLACES, 8 * D * spans};
    if (!sized(&all, bytes) || !within(&all, 1, 0, count - 1) || !within(&all, 2, 1, count))
        return NULL;
    const span_task task = {.points = all.of[0].buf, .count = count, .even = all.of[3].buf,
                            .inner = all.of[4].buf, .steps = (int)steps};
    const whole *first = all.of[1].buf, *last = all.of[2].buf;
    double *out = all.of[5].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t k = 0; k < spans; k++)
        fit_span(&task, first[k], last[k], out + 8 * k);
    Py_END_ALLOW_THREADS
    let_go(&all);
    Py_RETURN_NONE;
}

/* Whether each path's segments and samples follow each other, and no neighbour is another path's. */
static int grouped(const path_set *set)
{
    for (whole k = 0; k < set->segments; k++) {
        if (k && set->path[k] < set->path[k - 1])
            return 0;
        if (set->before[k] >= 0 && set->path[set->before[k]] != set->path[k])
            return 0;
        if (set->after[k] >= 0 && set->path[set->after[k]] != set->path[k])
            return 0;
    }
    for (whole i = 1; i < set->samples; i++)
        if (set->path[set->segment[i]] < set->path[set->segment[i - 1]])
            return 0;
    return 1;
}

/* place, angle, handle, smooth, fixed, held, start, end, before, after, path, straight, points, tolerance,
 * segment, t, rules */
static PyObject *polish(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long numbers[2];
    if (!take_all(arguments, "wwwrrrrrrrrrrrwwr", &all, numbers, 2))
        return NULL;
    Py_ssize_t nodes = all.of[3].len, segments = all.of[6].len / W, samples = all.of[13].len / D;
    const Py_ssize_t bytes[] = {
        2 * D * nodes, 2 * D * nodes, 2 * D * nodes, nodes, nodes, 2 * nodes,
        W * segments, W * segments, W * segments, W * segments, W * segments, segments,
        2 * D * samples, D * samples, W * samples, D * samples, (Py_ssize_t)sizeof(polish_rules),
    };
    if (!sized(&all, bytes) || !within(&all, 6, 0, nodes) || !within(&all, 7, 0, nodes)
        || !within(&all, 8, -1, segments) || !within(&all, 9, -1, segments) || !within(&all, 14, 0, segments))
        return NULL;
    const path_set set = {
        all.of[0].buf, all.of[1].buf, all.of[2].buf, all.of[3].buf, all.of[4].buf, all.of[5].buf,
        all.of[6].buf, all.of[7].buf, all.of[8].buf, all.of[9].buf, all.of[10].buf, all.of[11].buf,
        all.of[12].buf, all.of[13].buf, all.of[14].buf, all.of[15].buf, nodes, segments, samples,
    };
    if (!grouped(&set)) {
        let_go(&all);
        PyErr_SetString(PyExc_ValueError, "the segments or samples of a path do not follow each other");
        return NULL;
    }
    int done;
    Py_BEGIN_ALLOW_THREADS
    done = polish_paths(&set, all.of[16].buf, (int)numbers[0], (int)numbers[1]);
    Py_END_ALLOW_THREADS
    let_go(&all);
    if (!done)
        return PyErr_NoMemory();
    Py_RETURN_NONE;
}

/* curves, before, after, points, segment, t */
static PyObject *follow_feet(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long steps;
    if (!take_all(arguments, "rrrrww", &all, &steps, 1))
        return NULL;
    Py_ssize_t segments = all.of[1].len / W, samples = all.of[5].len / D;
    const Py_ssize_t bytes[] = {8 * D * segments, W * segments, W * segments, 2 * D * samples, W * samples,
                                D * samples};
    if (!sized(&all, bytes) || !within(&all, 1, -1, segments) || !within(&all, 2, -1, segments)
        || !within(&all, 4, 0, segments))
        return NULL;
    const double *curves = all.of[0].buf, *points = all.of[3].buf;
    const whole *before = all.of[1].buf, *after = all.of[2].buf;
    whole *segment = all.of[4].buf;
    double *t = all.of[5].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t i = 0; i < samples; i++)
        follow_foot(curves, before, after, points[2 * i], points[2 * i + 1], (int)steps, segment + i, t + i);
    Py_END_ALLOW_THREADS
    let_go(&all);
    Py_RETURN_NONE;
}

/* curves, points, segment, t, normal, distance */
static PyObject *distances(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    if (!take_all(arguments, "rrrrww", &all, NULL, 0))
        return NULL;
    Py_ssize_t segments = all.of[0].len / (8 * D), samples = all.of[3].len / D;
    const Py_ssize_t bytes[] = {8 * D * segments, 2 * D * samples, W * samples, D * samples, 2 * D * samples,
                                D * samples};
    if (!sized(&all, bytes) || !within(&all, 2, 0, segments))
        return NULL;
    const double *curves = all.of[0].buf, *points = all.of[1].buf, *t = all.of[3].buf;
    const whole *segment = all.of[2].buf;
    double *normal = all.of[4].buf, *distance = all.of[5].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t i = 0; i < samples; i++)
        distance_at(curves + 8 * segment[i], points[2 * i], points[2 * i + 1], t[i], normal + 2 * i, distance + i);
    Py_END_ALLOW_THREADS
    let_go(&all);
    Py_RETURN_NONE;
}

/* curves, first, closed, owner, x, y, u, best */
static PyObject *nearest(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long steps;
    if (!take_all(arguments, "rrrrrrww", &all, &steps, 1))
        return NULL;
    Py_ssize_t segments = all.of[0].len / (8 * D), paths = all.of[2].len, points = all.of[3].len / W;
    const Py_ssize_t bytes[] = {8 * D * segments, W * (paths + 1), paths, W * points, D * points, D * points,
                                D * points, D * points};
    if (!sized(&all, bytes) || !within(&all, 1, 0, segments + 1) || !within(&all, 3, 0, paths))
        return NULL;
    const double *curves = all.of[0].buf, *x = all.of[4].buf, *y = all.of[5].buf;
    const whole *first = all.of[1].buf, *owner = all.of[3].buf;
    const uint8_t *closed = all.of[2].buf;
    for (Py_ssize_t k = 0; k < paths; k++)
        if (first[k] >= first[k + 1]) {
            let_go(&all);
            return PyErr_Format(PyExc_ValueError, "path %zd has no segment", k);
        }
    double *u = all.of[6].buf, *best = all.of[7].buf;
    Py_BEGIN_ALLOW_THREADS
    for (Py_ssize_t i = 0; i < points; i++) {
        whole mine = owner[i], count = first[mine + 1] - first[mine];
        nearest_on_path(curves + 8 * first[mine], count, closed[mine], x[i], y[i], (int)steps, u + i, best + i);
    }
    Py_END_ALLOW_THREADS
    let_go(&all);
    Py_RETURN_NONE;
}

/* points, tolerance, measures (typical tolerance, step, spacing, noise), rules, out; closed, apart */
static PyObject *corners(PyObject *self, PyObject *arguments)
{
    (void)self;
    buffers all;
    long numbers[2];
    if (!take_all(arguments, "rrrrw", &all, numbers, 2))
        return NULL;
    Py_ssize_t count = all.of[1].len / D;
    const Py_ssize_t bytes[] = {2 * D * count, D * count, 4 * D, (Py_ssize_t)sizeof(corner_rules),
                                2 * count * (Py_ssize_t)sizeof(corner)};
    if (!sized(&all, bytes))
        return NULL;
    const double *measures = all.of[2].buf;
    const corner_task task = {all.of[0].buf, all.of[1].buf, count, (int)numbers[0], measures[0], measures[1],
                              measures[2], measures[3], numbers[1], all.of[3].buf};
    whole many;
    Py_BEGIN_ALLOW_THREADS
    many = find_corners(&task, all.of[4].buf);
    Py_END_ALLOW_THREADS
    let_go(&all);
    return many < 0 ? PyErr_NoMemory() : PyLong_FromLongLong(many);
}

static PyMethodDef methods[] = {
    {"corners", corners, METH_VARARGS, "Corners of samples: see limner.curves.data.corners."},
    {"span_errors", span_errors, METH_VARARGS, "Errors of spans: see limner.curves.plan.single_cubics."},
    {"fit_spans", fit_spans, METH_VARARGS, "Cubics of spans: see limner.curves.plan.single_cubics."},
    {"polish", polish, METH_VARARGS, "Gauss-Newton steps of paths: see limner.curves.refine.polish."},
    {"follow_feet", follow_feet, METH_VARARGS, "Newton steps of feet: see limner.curves.refine.paths."},
    {"distances", distances, METH_VARARGS, "Distances at feet: see limner.curves.refine.paths."},
    {"nearest", nearest, METH_VARARGS, "Nearest places of paths: see limner.curves.fit.error."},
    {NULL, NULL, 0, NULL},
};

static int add_digest(PyObject *module)
{
    return PyModule_AddStringConstant(module, "source_digest", SOURCE_DIGEST);
}

static PyModuleDef_Slot slots[] = {{Py_mod_exec, add_digest}, {0, NULL}};

static PyModuleDef definition = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "limner.curves.kernels._compiled",
    .m_doc = "The loops of the curve fit, compiled.",
    .m_methods = methods,
    .m_slots = slots,
};

PyMODINIT_FUNC PyInit__compiled(void)
{
    return PyModuleDef_Init(&definition);
}
